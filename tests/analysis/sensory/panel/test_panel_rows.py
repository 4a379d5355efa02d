"""What counts as a product, what is missing, and what is refused."""

from __future__ import annotations

import polars as pl
import pytest

from analysis.sensory.panel.labels import assessor_labels
from analysis.sensory.panel.request import PanelRequest
from analysis.sensory.panel.tidy import panel_rows
from schemas.problem import ProblemError


def _cups(*rows: tuple[str, str | None, str | None], **columns: object) -> pl.DataFrame:
    """Rows of assessor, brew_id, coffee_id; a score each."""
    schema = {"assessor": pl.String, "brew_id": pl.String, "coffee_id": pl.String}
    frame = pl.DataFrame(rows, schema=schema, orient="row").with_row_index("score")
    return frame.with_columns(pl.col("score").cast(pl.Float64), attribute=pl.lit("body"), **columns)


def test_brews_that_palates_share_are_the_products():
    shared = _cups(*[(who, brew, "c1") for who in "ab" for brew in ("b1", "b2")])
    rows = panel_rows(shared, PanelRequest())
    assert (rows.kind, rows.products, rows.own_shots) == ("brew", ("b1", "b2"), False)


def test_another_brew_for_every_palate_makes_the_coffee_the_product():
    own = _cups(("a", "b1", "c1"), ("a", "b2", "c2"), ("b", "b3", "c1"), ("b", "b4", "c2"))
    rows = panel_rows(own, PanelRequest())
    assert (rows.kind, rows.products, rows.own_shots) == ("coffee", ("c1", "c2"), True)
    with pytest.raises(ProblemError, match="Every palate got another brew"):
        panel_rows(own, PanelRequest(product="brew"))


def test_or_the_recipe_where_there_are_several_with_its_coffee_named_where_there_are_several():
    own = _cups(("a", "b1", "c1"), ("a", "b2", "c1"), ("b", "b3", "c1"), ("b", "b4", "c1"))
    own = own.with_columns(recipe_id=pl.Series(["short", "long", "short", "long"]))
    assert panel_rows(own, PanelRequest()).products == ("long", "short")
    two = own.with_columns(coffee_id=pl.Series(["c1", "c1", "c2", "c2"]))
    assert panel_rows(two, PanelRequest(product="recipe")).products == (
        "long on c1",
        "long on c2",
        "short on c1",
        "short on c2",
    )


def test_bowls_that_name_only_a_coffee_and_milk_as_another_product():
    bowls = _cups(*[(who, None, coffee) for who in "ab" for coffee in ("c1", "c2")])
    assert panel_rows(bowls, PanelRequest()).kind == "coffee"
    milk = bowls.with_columns(served_as=pl.Series([None, "milk", None, "milk"]))
    assert panel_rows(milk, PanelRequest()).products == ("c1", "c2 in milk")


def test_cups_without_a_product_are_left_out_and_said():
    rows = panel_rows(_cups(("a", None, "c1"), ("a", None, None), ("b", None, "c1")), PanelRequest())
    assert rows.scores["body"].y.size == 2
    assert rows.left_out == ("1 score of cups whose coffee is not known",)
    with pytest.raises(ProblemError, match="None of the 1 score names a coffee"):
        panel_rows(_cups(("a", None, None)), PanelRequest())


def test_gaps_of_the_real_panel_by_counting(fries):
    rows = panel_rows(fries, PanelRequest())
    # 12 x 10 x 3 x 2 = 720 cups; 696 rows in the set, one of them without any score (tests/reference/panel).
    assert rows.gaps.n_cups == 60
    assert sum(rows.gaps.not_tasted.values()) == 720 - 695
    by_attribute = dict.fromkeys(rows.scores, 0)
    for (_, name), n in rows.gaps.skipped.items():
        by_attribute[name] += n
    assert by_attribute == {"potato": 0, "buttery": 3, "grassy": 0, "rancid": 0, "painty": 1}


def test_an_attribute_that_one_session_did_not_ask_for_is_not_skipped_there():
    one = _cups(("a", None, "c1"), ("a", None, "c2"), ("b", None, "c1"), ("b", None, "c2"), session_id=pl.lit("s1"))
    two = one.with_columns(session_id=pl.lit("s2"), attribute=pl.lit("acidity"))
    extra = one.with_columns(session_id=pl.lit("s2"))
    rows = panel_rows(pl.concat([one, two, extra.head(3)]), PanelRequest())
    assert rows.gaps.skipped == {(1, "body"): 1}
    assert set(rows.gaps.not_tasted.values()) == {0}


def test_what_is_not_there_is_named_with_its_nearest():
    frame = _cups(("a", None, "c1"), session_id=pl.lit("monday"))
    with pytest.raises(ProblemError, match="did you mean monday"):
        panel_rows(frame, PanelRequest(sessions=("mondey",)))
    with pytest.raises(ProblemError, match="did you mean body"):
        panel_rows(frame, PanelRequest(attributes=("boddy",)))
    with pytest.raises(ProblemError, match="kind of product"):
        PanelRequest(product="cup")  # type: ignore[arg-type]
    with pytest.raises(ProblemError, match="There are no tastings"):
        panel_rows(frame.clear(), PanelRequest())
    with pytest.raises(ProblemError, match="not one score"):
        panel_rows(frame.with_columns(score=pl.lit(None, dtype=pl.Float64)), PanelRequest())


def test_an_attribute_of_another_session_only_is_refused_by_name():
    one = _cups(("a", None, "c1"), session_id=pl.lit("s1"))
    both = pl.concat([one, one.with_columns(session_id=pl.lit("s2"), attribute=pl.lit("acidity"))])
    with pytest.raises(ProblemError, match=r"'acidity' is not a scored attribute.*The list: body"):
        panel_rows(both, PanelRequest(sessions=("s1",), attributes=("acidity",)))


def test_labels_follow_the_first_score_and_the_labs_own_words_win():
    found = assessor_labels(["zoe", "ann", "zoe", "bob"], own={"ann": "Ann K."})
    assert found == {"zoe": "assessor A", "ann": "Ann K.", "bob": "assessor C"}
