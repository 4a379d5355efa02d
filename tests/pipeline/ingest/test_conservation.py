"""Whatever a file holds: every row is taken in, known, set aside or blank, and a second run changes nothing."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.ingest.run import ingest
from pipeline.lab import new_lab
from pipeline.store.read import current, read_list
from pipeline.store.store import Store
from tests.conftest import NOW

CELLS = {
    "brew_id": st.sampled_from(["b-1", "b-2", "b-3", "007", "", " b-1 ", "=cmd"]),
    "brewed_at": st.sampled_from(["2026-04-03T09:15:00Z", "2026-04-03", "2026-13-40", "", "2031-01-01"]),
    "coffee_id": st.sampled_from(["sunrise", "dusk", ""]),
    "method": st.sampled_from(["espresso", "immersion", "cupping", "other", "Espresso", "tea"]),
    "dose_g": st.sampled_from(["18", "18.0", "0", "-3", "NaN", "inf", "a lot", "", "1e400"]),
    "water_g": st.sampled_from(["", "40", "300", "-1"]),
    "beverage_g": st.sampled_from(["36", "250", "", "-36", "36,0"]),
    "void_reason": st.sampled_from(["", "wrong cup"]),
}
ROWS = st.lists(
    st.one_of(
        st.tuples(*CELLS.values()).map(lambda cells: ",".join(f'"{cell}"' for cell in cells)),
        st.just(""),
        st.just("b-9,only,three"),
        st.just("," * 7),
    ),
    min_size=1,
    max_size=12,
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(rows=ROWS)
def test_rows_are_conserved_and_a_second_ingest_is_idle(rows):
    with tempfile.TemporaryDirectory() as folder:
        lab, path = Path(folder) / "lab", Path(folder) / "brews.csv"
        new_lab(lab)
        path.write_text(",".join(CELLS) + "\n" + "\n".join(rows) + "\n", encoding="utf-8")

        first, second = ingest([path], lab, now=NOW), ingest([path], lab, now=NOW)

        entry, again = first.entries[0], second.entries[0]
        assert entry.rows_read == len(rows)
        assert entry.adds_up
        assert again.adds_up
        assert not second.committed
        assert (again.taken_in, again.set_aside) == (0, entry.set_aside)
        store = Store(lab)
        brews = current(store, store.head(), "brews").collect()
        assert brews.height == entry.taken_in
        assert brews["brew_id"].is_unique().all()
        aside = read_list(store, store.head(), "set_aside")
        assert (aside["line"].n_unique() if aside.width else 0) == entry.set_aside
