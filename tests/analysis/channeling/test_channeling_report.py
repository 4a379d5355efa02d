"""The whole report: its sentences, its findings, and that a part which cannot be shown says why."""

import numpy as np
import polars as pl
import pytest

from analysis.channeling.bounds import rate
from analysis.channeling.matched import MatchedEffect
from analysis.channeling.report import channeling_report
from analysis.channeling.risk import ChannelingRisk, RiskEffect
from analysis.channeling.screen import LowBrew, LowYieldScreen
from analysis.channeling.second_look_words import screen_sentences
from analysis.channeling.seen import NotShown, SeenCounts
from analysis.channeling.words import (
    CONSEQUENCE,
    AdjustedEffect,
    compared_sentence,
    count_sentences,
    effect_sentence,
    matched_sentences,
    risk_sentences,
)
from schemas.problem import ProblemError

MATCHED = MatchedEffect(
    difference=-1.9,
    low=-2.6,
    high=-1.2,
    std_error=0.35,
    df=40.0,
    p_value=1e-6,
    plain_difference=-1.9,
    n_recipes=9,
    n_channeled=14,
    n_clean=36,
    n_unmatched=3,
    n_coffees=3,
    with_sessions=False,
    rules=("the same recipe_id",),
)
GRIND = RiskEffect(
    name="grind_steps_finer",
    change="one step finer",
    odds_ratio=1.934,
    odds_low=1.1,
    odds_high=3.6,
    p_value=0.02,
    risk_from_pct=24,
    risk_to_pct=38,
    points=14,
    points_low=2,
    points_high=29,
    n_brews=50,
    beyond=False,
)


def report_of(facts, **more):
    return channeling_report(facts, method="espresso", rng=np.random.default_rng(1), resamples=30, **more)


def all_words(report):
    findings = [text for finding in report.findings for text in (finding.said, finding.do)]
    return [*(sentence for section in report.sections for sentence in section.sentences), *findings]


def test_the_matched_sentence_reads_as_people_talk():
    said = matched_sentences(MATCHED, method="espresso")

    assert said == [
        "Channeled shots yielded 1.9 points less (95 % interval 1.2 to 2.6 less) than clean ones at the same recipe, "
        "14 and 36 shots in 9 recipes of 3 coffees, for these coffees.",
        "Same recipe: the same recipe_id. The model holds a level for each recipe; t with 40.0 degrees of freedom.",
        "3 shots looked at had no counterpart at the same recipe and do not count here.",
    ]


def test_a_wide_interval_settles_nothing():
    import dataclasses

    wide = dataclasses.replace(MATCHED, low=-4.0, high=0.2)
    said = matched_sentences(wide, method="pour_over")[0]

    assert "95 % interval 4.0 less to 0.2 more" in said
    assert said.endswith("the interval includes zero, so these brews do not settle the direction.")


def test_the_models_number_stands_beside():
    near = AdjustedEffect(-1.7, -2.3, -1.1, 50, "grind and dose")
    far = AdjustedEffect(-0.4, -0.8, 0.0, 50, "grind and dose")

    assert compared_sentence(MATCHED, near, method="espresso") == (
        "The model that adjusts for grind and dose says 1.7 points less (95 % interval 1.1 to 2.3 less; 50 shots): "
        "the two agree: each lies inside the other's interval."
    )
    assert "the two differ by more than their intervals allow for" in compared_sentence(MATCHED, far, method="espresso")


def test_the_risk_sentence_gives_odds_and_risk():
    assert effect_sentence(GRIND, None, "") == (
        "One step finer: the odds of channeling times 1.93 (95 % interval 1.10 to 3.6; p 0.01 to 0.05); at the mean "
        "recipe the risk goes from 24 to 38 %, 14 percentage points more (2 to 29 more)."
    )


def test_missing_p_values_are_explained():
    import dataclasses

    effect = dataclasses.replace(GRIND, p_value=None, odds_low=0.9, beyond=True)
    risk = ChannelingRisk(
        "espresso", (effect, effect, effect), NotShown("Sessions were not resampled."), 50, 14, 36, 3, 3, "0 of 50", ()
    )

    said = risk_sentences(risk)

    assert said[1] == ("No p values: 4.7 shots of the rarer kind stand behind each of 3 terms, and it takes 5.")
    assert "do not settle the direction" in said[2]
    assert "reaches past what was brewed" in said[2]
    assert "Sessions were not resampled." in said


def test_counts_are_said_with_their_interval():
    """14 of 50: Wilson 17.5 to 41.7 %, from the closed form by hand."""
    said = count_sentences(SeenCounts(14, 36, 10, 9, 5), rate(14, 50), method="espresso")

    assert said == [
        "Of 60 shots of espresso, 50 were looked at for channeling: 14 channeled (9 slight, 5 severe) and 36 ran "
        "clean; 10 were not looked at.",
        "That is 28 % of those looked at (95 % interval 17 to 42 %).",
    ]


def test_low_brews_are_offered_not_labelled():
    low = LowBrew("b017", False, 16.9, 19.4, 18.1, 20.7, -4.0, 1e-4, 0.006, 0.006)
    said = screen_sentences(LowYieldScreen((low,), 60, 1, 2, 50, 0.6, "the coffee and grind"), method="espresso")

    assert said[1] == (
        "b017 (not looked at) yielded 16.9 %; its recipe predicts 19.4 % (95 % interval for one such brew 18.1 to 20.7 "
        "%), 2.5 points less: beyond chance."
    )
    assert said[2].startswith("Look at these again; a low yield alone does not say that a brew channeled.")
    assert said[3] == "Not judged: 1 without a like to judge by, 2 without a value the prediction needs."


def test_a_report_answers_every_question_once(make_log):
    report = report_of(make_log(seed=5, n=100, unseen=0.2))

    assert [section.question for section in report.sections] == [
        "How often did it channel?",
        "What did channeled brews yield?",
        "What goes with channeling?",
        "Could the brews not looked at change this?",
        "Which brews deserve a second look?",
    ]
    assert sum(CONSEQUENCE in words for words in all_words(report)) == 1
    assert {finding.topic for finding in report.findings} == {"channeling"}


def test_the_same_seed_gives_the_same_report(make_log):
    facts = make_log(seed=5, unseen=0.2)

    assert report_of(facts) == report_of(facts)


@pytest.mark.parametrize("seed", [1, 2, 4])
@pytest.mark.parametrize("effect", [-1.9, 0.0])
def test_no_sentence_claims_a_cause_or_rules_an_effect_out(make_log, seed, effect):
    words = " ".join(all_words(report_of(make_log(seed=seed, n=40, effect=effect, unseen=0.3, noise=1.5)))).lower()

    for claim in ("caused", "because of channeling", "no effect", "does not matter", "no difference", "nan", "inf "):
        assert claim not in words


@pytest.mark.parametrize(
    "change",
    [
        pl.lit(value=True).alias("channeled"),
        pl.lit(value=False).alias("channeled"),
        pl.lit(None, pl.Boolean).alias("channeled"),
        pl.lit(None, pl.Float64).alias("extraction_yield_pct"),
        pl.lit(19.0).alias("extraction_yield_pct"),
        pl.lit(None, pl.String).alias("recipe_id"),
        pl.col("brew_id").alias("coffee_id"),
        pl.lit(None, pl.Float64).alias("grind_steps_finer"),
    ],
    ids=["all channeled", "none", "not looked at", "no yield", "constant", "no recipe", "a coffee each", "no grind"],
)
def test_bad_logs_get_plain_words(make_log, change):
    report = report_of(make_log(seed=3).with_columns(change))

    words = all_words(report)
    assert all(text[0].isupper() or text[0].isdigit() or text.startswith("b0") for text in words)
    assert all(text.endswith(".") for text in words)
    assert "nan" not in " ".join(words)


def test_five_brews_get_plain_words(make_log):
    report = report_of(make_log(seed=3).head(5))

    assert isinstance(report.effect, NotShown)
    assert isinstance(report.risk, NotShown)
    assert isinstance(report.screen, NotShown)
    assert [finding.weight for finding in report.findings[:2]] == ["stands in the way", "stands in the way"]


def test_no_brews_of_the_method_are_refused(make_log):
    with pytest.raises(ProblemError, match="There is no brew of moka"):
        channeling_report(make_log(seed=1), method="moka", rng=np.random.default_rng(1))
    with pytest.raises(ProblemError, match=r"that is not void \(60 are\)"):
        report_of(make_log(seed=1).with_columns(is_void=pl.lit(value=True)))


def test_several_risks_looked_at_are_allowed_for():
    """Holm (1979) by hand: 0.004, 0.02 and 0.03 become 0.012, 0.04 and 0.04; 0.02, 0.03 and 0.4: 0.06, 0.06, 0.4."""
    import dataclasses

    def said(*p_values: float) -> str:
        effects = tuple(
            dataclasses.replace(GRIND, change=f"change {k}", p_value=p) for k, p in enumerate(p_values, start=1)
        )
        risk = ChannelingRisk("espresso", effects, NotShown("Not resampled."), 50, 20, 30, 3, 3, "0 of 50", ())
        return next(text for text in risk_sentences(risk) if "Holm" in text)

    assert said(0.004, 0.02, 0.03).endswith(
        "after allowing for 3 (Holm), clear at the 5 % level: change 1; change 2; change 3."
    )
    assert said(0.02, 0.03, 0.4).endswith("after allowing for 3 (Holm), none is clear at the 5 % level.")
