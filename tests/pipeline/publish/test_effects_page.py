from __future__ import annotations

import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import moved_lab
import moved_pages
import polars as pl
import pytest

from analysis.channeling.seen import NotShown
from analysis.next_brews.answer import next_brews
from pipeline.publish.build import build_dashboard
from pipeline.publish.effects.next import method_states, recipe_in_target
from pipeline.publish.effects.page import effects_html
from pipeline.publish.effects.sections.residuals import far_off
from schemas.study import Study, Target

PAYLOADS = (
    "</script><script>window.owned=1</script>",
    "<img src=x onerror=window.owned=1>",
    "\"'><svg onload=window.owned=1>",
)


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    return moved_pages.take_in(tmp_path_factory.mktemp("moved"))


@pytest.fixture(scope="module")
def page(lab):
    return moved_pages.moved(lab)


@pytest.fixture(scope="module")
def html(page):
    return effects_html(page)


def page_data(html):
    return json.loads(re.search(r'id="page-data">(.*?)</script>', html).group(1))


def text_of(html):
    body = re.sub(r"<(style|script).*?</\1>", " ", html, flags=re.DOTALL)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", body)).replace("\u00a0", " ")


def drawn(html, chart_id):
    (chart,) = [one for one in page_data(html)["charts"] if one["id"] == chart_id]
    spec = chart["spec"]
    return {layer["name"]: rows_of(layer.get("data", {}), spec.get("datasets", {})) for layer in spec["layer"]}


def rows_of(data, datasets):
    return data["values"] if "values" in data else datasets.get(data.get("name"), [])


def test_it_answers_in_sentences_first_then_says_what_stands_in_the_way(html):
    part = re.search(r'<section id="method-pour_over".*?</section>', html, flags=re.DOTALL).group(0)
    said = re.search(r'<p class="said">(.*?)</p>', part).group(1).replace("\u00a0", " ")

    assert re.fullmatch(
        r"One step finer: \+0\.\d+ points, 95 % interval [\d.]+ to [\d.]+, 42 brews of 3 coffees, for these coffees.*",
        said,
    )
    assert part.index("said") < part.index("Can these brews answer it?") < part.index("<details open>")


def test_the_effects_hold_the_truth_they_were_made_from(page):
    (one,) = page.moves
    rows = {row["term"]: row for row in one.result.table.iter_rows(named=True)}

    # The lab is made with these slopes (moved_lab); channeling is left out and adds scatter, not bias.
    assert rows["grind_steps_finer"]["low"] < moved_lab.FINER < rows["grind_steps_finer"]["high"]
    assert rows["water_temp_c"]["low"] < moved_lab.HOTTER < rows["water_temp_c"]["high"]
    assert "channeled" not in rows
    assert one.channeling.effect.low < moved_lab.CHANNELED < one.channeling.effect.high


def test_every_chart_has_a_place_and_a_description(html):
    charts = page_data(html)["charts"]
    places = re.findall(r'class="chart" id="(.*?)"', html)

    assert sorted(chart["id"] for chart in charts) == sorted(places)
    assert len(set(places)) == len(places) > 10
    assert all(len(chart["spec"]["description"]) > 30 for chart in charts)


def test_charts_draw_a_row_for_all_there_is(html, page):
    (one,) = page.moves
    assert len(drawn(html, "left-out-pour_over")["estimates"]) == 1 + 3  # all brews, and without each of three coffees
    assert len(drawn(html, "slopes-pour_over-0")["estimates"]) == 3
    assert len(drawn(html, "spread-pour_over")["bars"]) == len(one.spread.sources)
    assert len(drawn(html, "risk-pour_over")["estimates"]) == len(one.channeling.risk.effects)
    assert len(drawn(html, "direct-pour_over")["estimates"]) == 2 * len(one.mediation.rows)
    data = page_data(html)["data"]["lines-pour_over-grind-steps-finer"]
    assert len(data["rows"]) == one.result.n_brews


def test_shares_of_the_spread_add_up_and_level_uncertainty_stands_apart(html):
    shares = [row["share"] for row in drawn(html, "spread-pour_over")["bars"]]

    assert sum(shares) == pytest.approx(100, abs=0.1)
    assert "all yields may lie too high or too low together" in text_of(html)


def test_no_sentence_says_caused_or_no_effect(html):
    text = text_of(html)

    assert not re.search(r"\bcaus(ed|es|e)\b|\bno effect\b|does not matter|\bproves?\b", text, flags=re.IGNORECASE)


def test_prose_says_no_column_names(html):
    prose = re.split(r"<summary>Method note", html.split('id="page-data"')[0])[0]
    names = re.findall(r"\b(?:extraction_yield|beverage_ratio|water_temp|grind_steps|brew_time)\w*", text_of(prose))

    assert names == []


def test_the_same_input_gives_the_same_bytes(lab, html):
    assert effects_html(moved_pages.moved(lab)) == html


def test_the_pages_lead_to_each_other_and_the_index_opens_with_what_to_brew(lab, tmp_path):
    index, effects, measurement = build_dashboard(lab, tmp_path)
    first = index.read_text(encoding="utf-8")

    assert [path.name for path in (index, effects, measurement)] == ["index.html", "effects.html", "measurement.html"]
    assert first.count('href="effects.html"') == 2
    assert 'href="index.html"' in effects.read_text(encoding="utf-8")
    assert re.search(r"<h1>(.*?)</h1>", first).group(1) == "What to brew next, and why?"
    assert "What to brew or to do, the most telling first" in first


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"coffees": ("Quiet Hill",), "per_coffee": 24}, "for this coffee"),
        pytest.param(
            {"coffees": tuple(f"Coffee {k}" for k in range(12)), "per_coffee": 5},
            "for coffees like these",
            marks=pytest.mark.slow,
        ),
        ({"channeled": 0.0}, "0 channeled"),
        ({"channeled": 1.0}, "42 channeled"),
        ({"looked_at": False}, "None of the 42 brews of pour over was looked at for channeling"),
    ],
)
def test_other_labs_get_an_answer_or_a_plain_refusal(tmp_path, more, told):
    html = effects_html(moved_pages.moved(moved_pages.take_in(tmp_path, **more)))

    assert told in text_of(html)
    assert "Traceback" not in html
    assert not re.search(r"\bnan\b|\binf\b|\bNone\b(?! of|:)", text_of(html))


def test_without_yields_it_says_so_and_what_to_do(tmp_path):
    page = moved_pages.moved(moved_pages.take_in(tmp_path, read=False))
    text = text_of(effects_html(page))

    assert "None of its 42 brews has an extraction yield." in text
    assert page.next_brews.is_blocked
    assert "read their strength" in page.next_brews.paragraph
    assert isinstance(page.moves[0].diagnosis, NotShown)


def test_settings_that_moved_together_are_said_first_and_parted_next(tmp_path):
    page = moved_pages.moved(moved_pages.take_in(tmp_path, tied=True))
    (one,) = page.moves

    # Made with grind and heat in lockstep: no effect of either comes out, and the further brews part them.
    assert one.result is None
    assert one.diagnosis.answer == "cannot"
    assert "chosen so that grind and water temperature come apart" in page.next_brews.paragraph
    after = re.search(r"by r ([+-][\d.]+) instead of \+1\.00", page.next_brews.paragraph).group(1)
    assert abs(float(after)) < 0.5
    assert "moved together" in text_of(effects_html(page))


def test_a_recipe_to_confirm_lands_in_the_studys_target(page):
    study = Study(
        "s", "?", "extraction_yield_pct", method="pour_over", targets=(Target("extraction_yield_pct", 20, 21),)
    )
    (state,) = method_states(page.facts, page.flags, page.moves, [study])
    best = recipe_in_target(page.facts, page.moves[0], [study])

    assert state.difference == 0.5
    assert 20 <= best.expected[0].value <= 21
    assert "lands in the target" in next_brews([replace(state, trial=None, diagnosis=None, best=best)]).rows[0].why


def test_names_of_a_lab_are_text_everywhere(tmp_path):
    html = effects_html(moved_pages.moved(moved_pages.take_in(tmp_path, coffees=PAYLOADS, prefix=PAYLOADS[1])))
    body = html.split('<script type="application/json"')[0]

    assert not any(payload in body for payload in PAYLOADS)
    assert "&lt;img src=x" in body
    assert set(Tags(body).names) <= Tags.KNOWN
    assert "</script><script>window" not in html


class Tags(HTMLParser):
    """The tags of a page."""

    KNOWN = frozenset(
        (
            *("html", "head", "meta", "title", "style", "body", "header", "footer", "main", "nav", "section", "div"),
            *("h1", "h2", "h3", "h4", "p", "ul", "li", "dl", "dt", "dd", "a", "code", "details", "summary", "noscript"),
            *("table", "caption", "thead", "tbody", "tr", "th", "td", "figure", "figcaption"),
            *("form", "fieldset", "legend", "label", "input", "button", "svg", "circle", "path", "rect"),
        )
    )

    def __init__(self, html):
        super().__init__()
        self.names = []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.names.append(tag)


def test_the_brews_farthest_from_the_model_are_named(page):
    result = page.moves[0].result
    odd = result.residuals["brew_id"][5]
    residual = pl.when(pl.col("brew_id") == odd).then(-4.0).otherwise(pl.col("residual").clip(-1, 1))
    text = text_of(far_off(replace(result, residuals=result.residuals.with_columns(residual=residual), sigma=0.5)))

    assert "1 brew lies more than 3 times as far from the expected yield as is typical here (0.50 points)" in text
    assert re.search(rf"The largest residuals Brew Expected yield, % of dose Residual, points {odd} [\d.]+ -4.00", text)
