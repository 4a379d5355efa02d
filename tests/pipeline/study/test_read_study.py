from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.study.read import choose_study, read_studies
from schemas.lab import GrindReference
from schemas.problem import ProblemError
from schemas.study import Condition, Exclusion, Impossible, Study, StudyFactor, Target

HEAD = '[[study]]\nstudy_id = "map"\nquestion = "Why?"\nresponse = "extraction_yield_pct"\nmethod = "espresso"\n'
WHOLE = """\
[[study]]
study_id = "map"
question = "How much does grinding finer raise the yield?"
response = "extraction_yield_pct"
method = "espresso"
coffees = ["ostrin", "pirolo"]
blocks = ["session_id", "operator"]
whole_plot = ["grinder_id", "water_temp_c"]
crosses = ["grind_steps_finer:water_temp_c"]
difference_that_matters = 0.5

[[study.factor]]
name = "grind_steps_finer"
step = 2
levels = [4, -4, 0]
curve = true

[[study.factor]]
name = "water_temp_c"
low = 90
high = 95

[[study.factor]]
name = "dose_g"
low = 17.5
high = 18.5
hard_to_change = true

[[study.grind_reference]]
coffee_id = "ostrin"
grinder_id = "bench"
grind_setting = 22

[[study.exclusion]]
brew_id = "b-07"
reason = "wrong basket"

[[study.target]]
response = "tds_pct"
low = 8
high = 10

[[study.impossible]]
grind_steps_finer = { at_least = 4 }
water_temp_c = { at_least = 92, at_most = 95 }
reason = "the shot chokes"

[[study]]
study_id = "second"
question = "And the dose?"
response = "tds_pct"

[[study.factor]]
name = "dose_g"
"""


def read(folder: Path, text: str) -> tuple[Study, ...]:
    (folder / "study.toml").write_text(text, encoding="utf-8")
    return read_studies(folder)


def complaint(folder: Path, text: str) -> str:
    with pytest.raises(ProblemError) as caught:
        read(folder, text)
    return str(caught.value)


def test_no_file_is_no_study(tmp_path: Path) -> None:
    assert read_studies(tmp_path) == ()


def test_everything_that_can_be_declared_is_read(tmp_path: Path) -> None:
    first, second = read(tmp_path, WHOLE)

    assert first == Study(
        study_id="map",
        question="How much does grinding finer raise the yield?",
        response="extraction_yield_pct",
        method="espresso",
        coffees=("ostrin", "pirolo"),
        factors=(
            StudyFactor("grind_steps_finer", step=2.0, low=-4.0, high=4.0, levels=(-4.0, 0.0, 4.0), curve=True),
            StudyFactor("water_temp_c", low=90.0, high=95.0, hard_to_change=True),
            StudyFactor("dose_g", low=17.5, high=18.5, hard_to_change=True),
        ),
        crosses=("grind_steps_finer:water_temp_c",),
        blocks=("session_id", "operator"),
        whole_plot=("grinder_id", "water_temp_c", "dose_g"),
        grind_reference=(GrindReference("ostrin", "bench", "espresso", "22"),),
        exclusions=(Exclusion("b-07", "wrong basket"),),
        difference_that_matters=0.5,
        targets=(Target("tds_pct", 8.0, 10.0),),
        impossible=(
            Impossible(
                (Condition("grind_steps_finer", at_least=4.0), Condition("water_temp_c", 92.0, 95.0)), "the shot chokes"
            ),
        ),
    )
    assert (second.study_id, second.method, second.coffees) == ("second", None, ())


FACTOR = HEAD + '[[study.factor]]\nname = "{}"\n{}\n'
FACTOR_TWICE = HEAD + '[[study.factor]]\nname = "dose_g"\n[[study.factor]]\nname = "dose_g"\n'
REFERENCE = '[[study.grind_reference]]\ncoffee_id = "{}"\ngrinder_id = "g"\ngrind_setting = "2"\n'


@pytest.mark.parametrize(
    ("text", "where", "said"),
    [
        ("[[studdy]]\nx = 1\n", "line 1: studdy", "did you mean study?"),
        ("[study]\nstudy_id = 'a'\n", "line 1: [study]", "[[study]]"),
        ("study_id = 'a'\n", "line 1: study_id", "move it under [[study]]"),
        ("[[study]]\nstudy_id = 'a'\n", "line 1: [study]", "lacks question, response"),
        (HEAD.replace("Why?", " "), "line 3: [study] question", "is empty"),
        (HEAD + "coffee = ['a']\n", "line 6: [study] coffee", "did you mean coffees?"),
        (HEAD.replace("yield_pct", "yeld_pct"), "line 4: [study] response", "Did you mean extraction_yield_pct?"),
        (HEAD.replace('"espresso"', '"expresso"'), "line 5: [study] method", "Did you mean espresso?"),
        (HEAD + 'coffees = "ostrin"\n', "line 6: [study] coffees", "should be a list"),
        (HEAD + 'coffees = ["a", "a"]\n', "line 6: [study] coffees", "names a twice"),
        (HEAD + 'blocks = ["sesion_id"]\n', "line 6: [study] blocks", "Did you mean session_id?"),
        (HEAD + 'whole_plot = ["water_temp"]\n', "line 6: [study] whole_plot", "Did you mean water_temp_c?"),
        (HEAD + "difference_that_matters = 0\n", "line 6: [study] difference_that_matters", "more than 0"),
        (HEAD + "difference_that_matters = '1'\n", "line 6: [study] difference_that_matters", "without quotes"),
        (HEAD + "step = 1\n", "line 6: [study] step", "move it under [[study.factor]]"),
        (HEAD + 'crosses = ["a:b"]\n', "line 6: [study] crosses", "needs factors"),
        (HEAD + HEAD, "line 7: [study 2] study_id", 'is "map", as in a study above'),
        (FACTOR.format("water_temp", ""), "line 7: [study.factor] name", "Did you mean water_temp_c?"),
        (FACTOR.format("dose_g", "low = 19\nhigh = 18"), "line 8: [study.factor] low", "is 19, above high 18"),
        (FACTOR.format("dose_g", "low = 18\nhigh = 18"), "line 8: [study.factor] low", "the same as high 18"),
        (FACTOR.format("dose_g", "low = 18"), "line 8: [study.factor] low", "needs high beside it"),
        (FACTOR.format("dose_g", "step = -1"), "line 8: [study.factor] step", "more than 0 g"),
        (
            FACTOR.format("dose_g", "step = 3\nlow = 17\nhigh = 19"),
            "line 8: [study.factor] step",
            "more than the range",
        ),
        (FACTOR.format("dose_g", "levels = [18]"), "line 8: [study.factor] levels", "at least two"),
        (FACTOR.format("dose_g", "levels = [18, 18.0]"), "line 8: [study.factor] levels", "names 18 twice"),
        (
            FACTOR.format("dose_g", "low = 17\nhigh = 19\nlevels = [17, 20]"),
            "line 10: [study.factor] levels",
            "holds 20, outside the range 17 to 19",
        ),
        (FACTOR.format("water_temp_c", "low = 90\nhigh = 205"), "line 9: [study.factor] high", "beyond what a log"),
        (FACTOR.format("dose_g", "curve = 'yes'"), "line 8: [study.factor] curve", "true or false"),
        (FACTOR.format("channeled", "step = 1"), "line 8: [study.factor] step", "yes or no"),
        (FACTOR.format("tds_pct", ""), "line 7: [study.factor] name", "must be one of"),
        (FACTOR_TWICE, "line 9: [study.factor 2] name", "names dose_g a second time"),
        (
            FACTOR.format("dose_g", "[[study.factor]]\nname = 'water_g'\nstp = 1"),
            "line 10: [study.factor 2] stp",
            "did you mean step?",
        ),
        (
            HEAD + 'crosses = ["dose_g:water_g"]\n[[study.factor]]\nname = "dose_g"\n',
            "line 1: [study]",
            "not among the factors",
        ),
        (HEAD + "[[study.exclusion]]\nbrew_id = 'b'\n", "line 6: [study.exclusion]", "lacks reason"),
        (
            HEAD + "[[study.exclusion]]\nbrew_id = 'b'\nreason = ''\n",
            "line 8: [study.exclusion] reason",
            "is empty",
        ),
        (HEAD + REFERENCE.format("a") * 2, "line 10: [study.grind_reference 2]", "keep one"),
        (
            HEAD + "coffees = ['b']\n" + REFERENCE.format("a"),
            "line 8: [study.grind_reference] coffee_id",
            "not among coffees",
        ),
        (
            HEAD.replace('method = "espresso"\n', "") + REFERENCE.format("a"),
            "line 5: [study.grind_reference]",
            "lacks method",
        ),
        (
            HEAD + "[[study.target]]\nresponse = 'tds_pct'\nlow = 10\nhigh = 9\n",
            "line 8: [study.target] low",
            "not below high 9",
        ),
        (
            FACTOR.format("dose_g", "[[study.impossible]]\nwater_g = { at_least = 1 }"),
            "line 9: [study.impossible] water_g",
            "is not a setting",
        ),
        (
            FACTOR.format("dose_g", "[[study.impossible]]\ndose_g = 'dose_g > 20'"),
            "line 9: [study.impossible] dose_g",
            "at_least, at_most or both",
        ),
        (
            FACTOR.format("dose_g", "[[study.impossible]]\ndose_g = { at_least = 20, at_most = 18 }"),
            "line 9: [study.impossible] dose_g",
            "never true",
        ),
        (
            FACTOR.format("dose_g", "[[study.impossible]]\nreason = 'x'"),
            "line 8: [study.impossible]",
            "names no factor",
        ),
        (HEAD + "method = \n", "line 6", "cannot be understood"),
    ],
)
def test_what_means_nothing_is_refused_with_its_line(tmp_path: Path, text: str, where: str, said: str) -> None:
    message = complaint(tmp_path, text)

    assert message.startswith(f"{tmp_path / 'study.toml'} {where}")
    assert said in message


def test_headings_are_counted_over_all_studies(tmp_path: Path) -> None:
    text = WHOLE + 'low = "x"\nhigh = 1\n'

    assert f"line {len(WHOLE.splitlines()) + 1}: [study.factor 4] low" in complaint(tmp_path, text)


def test_a_file_that_is_no_text_is_refused(tmp_path: Path) -> None:
    (tmp_path / "study.toml").write_bytes(b"question = '\xff'")

    with pytest.raises(ProblemError, match="not plain UTF-8"):
        read_studies(tmp_path)


def test_the_only_study_needs_no_name_and_one_of_several_does(tmp_path: Path) -> None:
    first, second = read(tmp_path, WHOLE)

    assert choose_study((first,), None) is first
    assert choose_study((first, second), "second") is second
    with pytest.raises(ProblemError, match=r"declares 2 studies: map, second\. Say which: --study ID"):
        choose_study((first, second), None)
    with pytest.raises(ProblemError, match="Did you mean second"):
        choose_study((first, second), "secnd")
    with pytest.raises(ProblemError, match="--start"):
        choose_study((), None)
