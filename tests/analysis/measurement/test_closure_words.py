"""Mass closure in sentences: grams and percent of the water, n, interval, and what to look at."""

from __future__ import annotations

from dataclasses import replace

import pytest

from analysis.measurement.closure import mass_closure
from analysis.measurement.closure_words import (
    LOOK,
    closure_sentences,
    method_sentence,
    residual_sentence,
    suspect_sentence,
)
from schemas.lab import LabSettings
from tests.analysis.measurement.made_up_weights import SCALES, Weights, facts_of


def losing(*grams, scale="bench"):
    brews = {f"b{n}": Weights(15.0, 250.0, 219.5, 45.5 - lost, 0.0135) for n, lost in enumerate(grams)}
    return mass_closure(facts_of(brews, scale=scale), SCALES, settings=LabSettings())


def verdict(lost, scale="bench"):
    (row,) = losing(lost, scale=scale).residuals.iter_rows(named=True)
    return residual_sentence(row)


@pytest.mark.parametrize(
    # Twice 0.216 g, the uncertainty of four weighings with u 0.1 g and a step of 0.1 g.
    ("lost", "said"),
    [
        (0.3, "Brew b0: 0.30 g missing (+0.1 % of the water): the weights add up, within 0.43 g, twice its "
              "uncertainty."),
        (-1.5, "Brew b0: 1.50 g too much (-0.6 % of the water): the weights do not add up, by more than 0.43 g, twice "
               "its uncertainty."),
        (0.0, "Brew b0: 0.00 g unaccounted for (0.0 % of the water): the weights add up, within 0.43 g, twice its "
              "uncertainty."),
    ],
)  # fmt: skip
def test_a_brew_s_verdict(lost, said):
    assert verdict(lost) == said


def test_without_an_uncertainty_there_is_no_verdict():
    assert verdict(0.3, scale=None).endswith("no scale_id and no lab default: no uncertainty, so no verdict.")


@pytest.mark.parametrize(
    ("lost", "behind"),
    [
        ((3.0, 3.2, 2.8), "vapour that was not weighed"),
        ((-3.0, -3.2, -2.8), "a vessel or wet filter weighed with the grounds"),
        ((0.3, 0.4, 0.2), "calibration could explain it"),  # within twice 0.2 g
        ((0.5, -0.4, 0.0), "No loss or gain is shown"),
    ],
)
def test_a_method_s_sentence_says_what_may_be_behind(lost, behind):
    said = method_sentence(losing(*lost).methods[0])
    assert said.startswith("3 brews (pour over) with spent grounds weighed: on average ")
    assert "95 % interval" in said
    assert "% of the water" in said
    assert behind in said


def test_one_brew_has_a_value_and_no_interval():
    assert method_sentence(losing(1.0).methods[0]) == (
        "1 brew (pour over) with spent grounds weighed: 1.00 g missing; no interval from one brew."
    )


def test_suspects_are_offered_with_what_would_explain_them():
    brews = {f"b{n}": Weights(15.0, 250.0, 219.5, 44.0 + 0.1 * (n % 3 - 1), 0.0135) for n in range(9)}
    brews["b4"] = replace(brews["b4"], spent=104.0)
    closure = mass_closure(facts_of(brews), SCALES, settings=LabSettings())
    said = closure_sentences(closure)
    assert f"{LOOK} (1 brew)." in said
    # 58.5 g too much of 250 g; the others miss 1.5 g (0.6 %), limits 3.5 u = 3.5 * 0.216 g = 0.756 g (0.3 %).
    assert said[-1] == (
        "Brew b4 (pour over): 58.5 g more came out than went in, -23.4 % of the water (usual of its method: +0.3 to "
        "+0.9 %, from 9 brews); it would fit if spent grounds were about 44.0 g instead of 104.0 g (60.0 g too much, "
        "as of a vessel not taken off)."
    )


def test_what_no_single_weight_explains_says_so():
    brews = {f"b{n}": Weights(15.0, 250.0, 219.5, 44.0 + 0.1 * (n % 3 - 1), 0.0135) for n in range(9)}
    brews["b4"] = Weights(15.0, 250.0, 120.0, 300.0, 0.0135)
    closure = mass_closure(facts_of(brews), SCALES, settings=LabSettings())
    (suspect,) = closure.suspects
    assert suspect_sentence(suspect).endswith("no single weight explains it.")


def test_screens_say_what_they_go_by():
    def screened(n, method):
        brews = {f"b{k}": Weights(15.0, 250.0, 220.0, None, 0.0135, method) for k in range(n)}
        return closure_sentences(mass_closure(facts_of(brews), SCALES, settings=LabSettings()))

    # 250 - 220 * (1 - 0.0135) = 32.97 g in 15 g.
    assert "the method's own 9 brews, median 2.20 g of water kept per g of dose" in screened(9, "pour_over")[0]
    assert (
        "judged by common practice, 1.20 to 3.50 g per g of dose of water kept, as 3 brews"
        in screened(3, "pour_over")[0]
    )
    assert "too few brews of the method (3)" in screened(3, "immersion")[0]
    assert screened(9, "pour_over")[1] == "No brew stands apart by its weights."
