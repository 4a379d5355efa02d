"""The worksheet worked apart from the toolkit: plain Python, every error pushed through by a finite difference.

Run from the top of the project as `python tests/reference/drying/work.py`; it prints expected.json.
"""

from __future__ import annotations

import json
from math import sqrt

STEP, SCALE_U, LOSS_U_PCT = 0.0001, 0.0002, 1.0
BLANKS = [(28.0000, 28.0002), (29.0000, 29.0004)]
# empty dish, dish with sample, the weighing before the last, the last weighing
DISHES = {
    "A": [(30.0000, 35.0000, 30.0655, 30.0653), (31.0000, 35.0000, 31.0531, 31.0531)],
    "B": [
        (30.5000, 35.5000, 30.5703, 30.5703),
        (31.5000, 36.5000, 31.5719, 31.5718),
        (32.5000, 37.5000, 32.5703, 32.5703),
    ],
}
BOUNDED = {"C": (30.2000, 35.2000, 30.2703), "D": (30.4000, 35.4000, 30.4753), "E": (30.6000, 35.6000, 30.6703)}
NUDGE = 1e-6


def strength(empty, full, last, blank):
    return 100 * (last - empty - blank) / (full - empty)


def mean_strength(dishes, blank, *, residue_off=0.0, sample_off=0.0):
    each = [100 * (last - empty - blank + residue_off) / (full - empty + sample_off) for empty, full, _, last in dishes]
    return sum(each) / len(each)


def main() -> None:
    gains = [after - before for before, after in BLANKS]
    blank = sum(gains) / len(gains)
    blank_sd2 = sum((gain - blank) ** 2 for gain in gains) / (len(gains) - 1)
    weighing2 = 2 * STEP**2 / 12  # tare and load
    blank_u = sqrt(max(blank_sd2, 2 * weighing2) / len(gains))  # a gain is two weighings

    squares = weighing_share = df = 0.0
    for dishes in DISHES.values():
        each = [strength(e, f, y, blank) for e, f, _, y in dishes]
        mean = sum(each) / len(each)
        squares += sum((one / mean - 1) ** 2 for one in each)
        df += len(each) - 1
        weighing_share += (1 - 1 / len(each)) * sum(display2(dish, blank) for dish in dishes) / mean**2
    seen2, weighing_rel2 = squares / df, weighing_share / df
    beyond2 = max(seen2 - weighing_rel2, 0.0)

    out = {
        "blank_g": blank,
        "blank_u_g": blank_u,
        "scatter_seen_pct": 100 * sqrt(seen2),
        "scatter_weighing_pct": 100 * sqrt(weighing_rel2),
        "scatter_df": df,
        "brews": {},
        "at_most_pct": {brew: strength(*dish, blank) for brew, dish in BOUNDED.items()},
    }
    for brew, dishes in DISHES.items():
        out["brews"][brew] = budget(dishes, blank, blank_u, len(gains) - 1, seen2, beyond2, df)
    print(json.dumps(out, indent=1))


def budget(dishes, blank, blank_u, blank_df, seen2, beyond2, df):
    n, value = len(dishes), mean_strength(dishes, blank)
    parts = {
        "scatter of dishes": value**2 * beyond2 / n,
        "display step": sum(display2(dish, blank) for dish in dishes) / n**2,
        "residue bias": (slope(lambda d: mean_strength(dishes, blank, residue_off=d)) * SCALE_U) ** 2,
        "sample bias": (slope(lambda d: mean_strength(dishes, blank, sample_off=d)) * SCALE_U) ** 2,
        "blank dish": (slope(lambda d: mean_strength(dishes, blank + d)) * blank_u) ** 2,
        "constant mass": (sum(100 * abs(y - before) / (f - e) for e, f, before, y in dishes) / n) ** 2 / 3,
        "volatile loss": (value * LOSS_U_PCT / 100) ** 2,
    }
    total2 = sum(parts.values())
    # Welch-Satterthwaite: the scatter is estimated, its variance as uncertain as that of all scatter seen; and the
    # blank, as its two gains lie further apart than their display steps make them.
    quartics = (value**2 * seen2 / n) ** 2 / df + parts["blank dish"] ** 2 / blank_df
    lines = {name: sqrt(part) for name, part in parts.items()}
    return {"tds_pct": value, "u_pct": sqrt(total2), "df": total2**2 / quartics, "lines": lines}


def display2(dish, blank):
    """Variance of one dish's strength from the display steps of its three weighings."""
    empty, full, _, last = dish
    slopes = (
        slope(lambda d: strength(empty + d, full, last, blank)),
        slope(lambda d: strength(empty, full + d, last, blank)),
        slope(lambda d: strength(empty, full, last + d, blank)),
    )
    return sum(one**2 for one in slopes) * 2 * STEP**2 / 12


def slope(function):
    return (function(NUDGE) - function(-NUDGE)) / (2 * NUDGE)


if __name__ == "__main__":
    main()
