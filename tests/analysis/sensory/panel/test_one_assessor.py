"""One assessor at a time against R's lm, anova and cor.test (tests/reference/panel_mixed), and identities by hand."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from scipy import stats

from analysis.sensory.panel.agreement import agreement, levelled
from analysis.sensory.panel.discrimination import between_cups, discrimination
from analysis.sensory.panel.repeatability import repeatability
from analysis.sensory.panel.request import PanelRequest
from analysis.sensory.panel.scale_use import scale_use
from analysis.sensory.panel.tidy import panel_rows


def _panel(rows: list[tuple[str, str, str, float]], **columns: object) -> pl.DataFrame:
    frame = pl.DataFrame(rows, schema=["assessor", "coffee_id", "session_id", "score"], orient="row")
    return frame.with_columns(attribute=pl.lit("body"), **columns)


def _one(frame: pl.DataFrame, attributes: pl.DataFrame | None = None):
    rows = panel_rows(frame, PanelRequest(), attributes=attributes)
    return next(iter(rows.scores.values()))


def test_every_assessor_of_the_real_panel_as_r(fries, expected):
    rows = panel_rows(fries, PanelRequest(attributes=("rancid",)))
    scores = rows.scores["rancid"]
    repeats = repeatability(scores)
    numbers = {
        quantity: expected("one_assessor", quantity)
        for quantity in ("f_statistic", "f_df_den", "f_p_value", "repeat_sd", "repeat_df", "cups_p_value")
    }
    assert len(rows.assessors) == 12
    for code, name in enumerate(rows.assessors):
        test, cups = discrimination(scores, code), between_cups(scores, code)
        assert test is not None
        assert cups is not None
        assert test.statistic == pytest.approx(numbers["f_statistic"][name], rel=1e-9)
        assert test.df_den == numbers["f_df_den"][name]
        assert test.p_value == pytest.approx(numbers["f_p_value"][name], rel=1e-9)
        assert cups.p_value == pytest.approx(numbers["cups_p_value"][name], rel=1e-9)
        assert repeats[code].sd == pytest.approx(numbers["repeat_sd"][name], rel=1e-9)
        assert repeats[code].df == numbers["repeat_df"][name]
        low, high = stats.chi2.ppf([0.025, 0.975], repeats[code].df)
        squares = repeats[code].df * repeats[code].sd ** 2
        assert (repeats[code].low, repeats[code].high) == pytest.approx(
            (np.sqrt(squares / high), np.sqrt(squares / low))
        )


def test_agreement_with_the_others_as_r(ergo, expected):
    rows = panel_rows(ergo, PanelRequest())
    panel = levelled(rows.scores["effort"])
    numbers = {
        name: expected("ergo_agreement", name)
        for name in ("slope", "slope_low", "slope_high", "correlation", "correlation_low", "correlation_high")
    }
    for code, who in enumerate(rows.assessors):
        found = agreement(panel, code)
        assert found is not None
        for name, values in numbers.items():
            assert getattr(found, name) == pytest.approx(values[who], rel=1e-9), name


def test_an_assessor_who_missed_cups_is_held_against_the_same_cups():
    # Levels 0, 1 and 5; the one at 5 did not taste the two strongest cups: its plain mean says nothing of its level.
    cups = {"p": 1.0, "q": 2.0, "r": 6.0, "s": 9.0}
    rows = [
        (who, cup, "s1", level + value)
        for who, level in {"a": 0.0, "b": 1.0, "c": 5.0}.items()
        for cup, value in cups.items()
        if not (who == "c" and cup in "rs")
    ]
    found = levelled(_one(_panel(rows)))
    assert [found.level[1] - found.level[0], found.level[2] - found.level[0]] == pytest.approx([1.0, 5.0])


def test_repeats_are_taken_within_a_session_and_else_across_sessions():
    within = _panel([("a", p, s, v) for p, s, v in [("x", "1", 1), ("x", "1", 3), ("x", "2", 9), ("y", "1", 2)]])
    found = repeatability(_one(within))[0]
    assert (found.sd, found.df, found.basis) == (pytest.approx(np.sqrt(2.0)), 1, "same cup")

    # Products and sessions add up but for one cell that is 1 too high: residuals of a 2 x 2 table are a quarter each.
    across = _panel([("a", p, s, v) for p, s, v in [("x", "1", 1), ("y", "1", 3), ("x", "2", 2), ("y", "2", 5)]])
    found = repeatability(_one(across))[0]
    assert (found.sd, found.df, found.basis) == (pytest.approx(0.5), 1, "other sessions")


def test_nothing_repeated_is_nobodys_repeatability():
    assert repeatability(_one(_panel([("a", "x", "1", 1.0), ("a", "y", "1", 2.0)]))) == {}


def test_scale_use_by_hand():
    rows = [
        ("a", "x", "1", 0.0),
        ("a", "y", "1", 10.0),
        ("a", "z", "1", 4.0),
        ("b", "x", "1", 7.0),
        ("b", "y", "1", 7.0),
    ]
    scale = pl.DataFrame({"attribute": ["body"], "kind": ["intensity"], "low": [0.0], "high": [10.0]})
    scores = _one(_panel([*rows, ("b", "z", "1", 7.0)]), scale)
    a, b = scale_use(scores, 0), scale_use(scores, 1)
    assert a is not None
    assert b is not None
    assert (a.mean, a.low, a.high, a.extreme_pct) == (pytest.approx(14 / 3), 0.0, 10.0, pytest.approx(200 / 3))
    assert (a.constant, b.constant, b.extreme_pct) == (False, True, 0.0)
