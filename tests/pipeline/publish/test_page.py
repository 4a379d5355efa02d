from __future__ import annotations

import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import made_up_lab
import polars as pl
import pytest

from analysis.charts.effects_input import MethodEffects
from pipeline.publish.embed import content_hash
from pipeline.publish.page import write_dashboard
from schemas.lab import LabSettings

FACTS = made_up_lab.made_up_facts()


def write(folder, facts=FACTS, *, set_aside=None, effects=None, targets=None, name="Riverside Test Kitchen"):
    if effects is None:
        effects = [made_up_lab.made_up_effects(facts, method) for method in facts["method"].unique().sort()]
    path = write_dashboard(
        facts,
        made_up_lab.made_up_flags(facts),
        made_up_lab.made_up_set_aside() if set_aside is None else set_aside,
        effects,
        folder,
        settings=LabSettings(name=name),
        manifest_number=7,
        next_brews=made_up_lab.made_up_next(),
        targets=targets,
    )
    return path.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    return write(tmp_path_factory.mktemp("page"), targets=made_up_lab.made_up_targets())


class Outline(HTMLParser):
    """Tags in order, and the text outside scripts and styles."""

    def __init__(self, html):
        super().__init__()
        self.tags, self.texts, self.open = [], [], []
        self.feed(html)
        self.text = re.sub(r"\s+", " ", " ".join(self.texts))

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag in ("script", "style"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        if tag in ("script", "style"):
            self.open.pop()

    def handle_data(self, data):
        if not self.open:
            self.texts.append(data)

    def all(self, tag):
        return [attrs for name, attrs in self.tags if name == tag]


def page_data(html):
    return json.loads(re.search(r'id="page-data">(.*?)</script>', html).group(1))


def test_the_same_input_gives_the_same_bytes(page, tmp_path):
    again = write(tmp_path, targets=made_up_lab.made_up_targets())

    assert again == page


def test_nothing_is_fetched_and_only_hashed_scripts_run(page):
    outline = Outline(page)
    (allowed,) = [m["content"] for m in outline.all("meta") if m.get("http-equiv") == "Content-Security-Policy"]
    scripts = re.findall(r"<script>(.*?)</script>", page, flags=re.DOTALL)
    (style,) = re.findall(r"<style>(.*?)</style>", page, flags=re.DOTALL)

    assert len(scripts) == 2
    assert all(content_hash(text) in allowed for text in (*scripts, style))
    assert outline.all("link") == outline.all("img") == outline.all("iframe") == []
    assert not [attrs for _, attrs in outline.tags if {"src", "href", "style", "onclick"} & set(attrs)]


def test_reads_top_to_bottom_as_the_design_says(page):
    headings = re.findall(r"<h[12]>(.*?)</h[12]>", page.split("<script")[0])

    assert headings == [
        "What to brew next, and why?",
        "What was brewed, and how clean the data are",
        "Strength against yield",
        "Yield by coffee and method",
        "Effects on yield",
        "Channeled against clean brews",
        "What was set aside",
        "What was kept with a flag",
        "Void brews",
        "How these numbers were made",
        "Before the next brew",
    ]
    assert Outline(page).all("html") == [{"lang": "en"}]


def test_every_chart_has_a_place_a_description_and_its_section_a_table(page):
    charts = page_data(page)["charts"]
    outline = Outline(page)
    places = {attrs["id"] for attrs in outline.all("div") if attrs.get("class") == "chart"}

    assert {chart["id"] for chart in charts} == places
    assert len(places) == len(charts)
    assert all(chart["spec"]["description"] for chart in charts)
    for part in re.findall(r"<section.*?</section>", page, flags=re.DOTALL):
        assert "<table>" in part or 'class="chart"' not in part


def test_first_screen_counts_what_the_frames_hold(page):
    text = Outline(page).text
    void = int(FACTS["is_void"].sum())
    sound = FACTS.filter(~pl.col("is_void"))
    with_yield = sound["extraction_yield_pct"].count()

    head = text.split("Filter the charts")[0]
    for n, words in (
        (sound.height, "brews"),
        (6, "coffees"),
        (5, "methods"),
        (with_yield, "with a yield"),
        (void, "void, left out"),
        (3, "rows set aside"),
        (8, "brews flagged"),
    ):
        assert f"{words} {n}" in head
    assert "Brewed 2 March to 17 April 2026." in head


def test_published_box_stands_only_where_it_applies_with_its_source(page):
    charts = {chart["panel"]: json.dumps(chart["spec"]) for chart in page_data(page)["charts"] if chart["brush"]}

    assert {panel for panel, spec in charts.items() if "published_box" in spec} == {"pour_over", "batch_brew"}
    assert {panel for panel, spec in charts.items() if "own_box" in spec} == {"espresso"}
    assert page.count("SCAA Standard, Golden Cup, 2015") == 2


def test_set_aside_rows_show_their_fix(page):
    text = Outline(page).text

    assert "march log.xlsx, sheet Brews 12 brews dose_g eighteen" in text
    assert "Write digits only, in g." in text


def test_footer_carries_manifest_and_the_datas_own_dates(page):
    footer = Outline(page[page.index("<footer>") :]).text

    assert "Made from ingest 7 of Riverside Test Kitchen. Brewed 2 March to 17 April 2026." in footer
    assert "--as-of 7" in footer


def test_cautions_fit_what_was_brewed(tmp_path):
    filter_only = write(tmp_path, made_up_lab.made_up_facts(n_brews=30, methods=("pour_over",)))

    assert "burn" in filter_only
    assert "400 mg" in filter_only
    assert "under pressure" not in filter_only


def test_a_log_without_readings_still_makes_a_page(tmp_path):
    text = Outline(write(tmp_path, made_up_lab.made_up_facts(n_brews=40, with_yields=False))).text

    assert "none of the 40 brews has an extraction yield" in text
    assert "40 brews have no strength reading" in text


def test_an_empty_project_makes_a_page(tmp_path):
    text = Outline(write(tmp_path, FACTS.head(0), set_aside=made_up_lab.made_up_set_aside(0))).text

    assert "There are no brews yet." in text
    assert "every row that was handed in is in" in text


def test_no_channeled_brew_is_said_in_words(tmp_path):
    html = write(tmp_path, made_up_lab.made_up_facts(n_brews=60, channeled_share=0.0))

    assert "No brew with a yield was noted as channeled" in html
    assert "channeling-0" not in html


def test_many_brews_are_sampled_said_and_light(tmp_path):
    facts = made_up_lab.made_up_facts(n_brews=6_000)
    html = write(tmp_path, facts)

    drawn = len(page_data(html)["data"]["brews"]["rows"])
    sound = facts.filter(~pl.col("is_void")).height
    assert drawn < 2_000
    assert f"Drawn: {drawn:,} of {sound:,} brews" in Outline(html).text
    assert len(html.encode()) < 3_000_000


def test_prose_says_no_column_names_and_no_estimators(tmp_path):
    one = made_up_lab.made_up_effects(FACTS, "espresso")
    noted = replace(
        one.result,
        table=one.result.table.with_columns(dropped=pl.lit("9 of 82 brews left out: 9 without channeled")),
    )
    refused = MethodEffects("moka", refusal="grind_steps_finer is not in the model: it is the same in all 9 brews.")
    html = write(tmp_path, effects=[MethodEffects("espresso", noted), refused])

    part = re.search(r'<section id="effects".*?</section>', html, flags=re.DOTALL).group(0)
    prose = part
    assert not re.search(r"[a-z]_[a-z]+_?(pct|g|ratio|finer|c)\b|REML|Satterthwaite", Outline(prose).text)
    assert "9 of 82 brews left out: 9 without a note on channeling." in Outline(prose).text
    assert "Moka: grind is not in the model" in Outline(prose).text
    assert "1 °C hotter" in Outline(prose).text.replace("\u00a0", " ")


def test_methods_of_a_few_brews_share_one_line_of_their_yields(tmp_path):
    seldom = pl.col("method") == "moka"
    facts = FACTS.filter(~seldom).vstack(FACTS.filter(seldom, pl.col("extraction_yield_pct").is_not_null()).head(2))
    low, high = facts.filter(seldom)["extraction_yield_pct"].sort()

    html = write(tmp_path, facts)

    assert f"without a panel: moka (2 brews, yield {low:.1f} to {high:.1f} %" in Outline(html).text.replace(
        "\u00a0", " "
    )
    panels = {chart["panel"] for chart in page_data(html)["charts"] if chart["panel"]}
    assert panels == {"espresso", "pour_over", "batch_brew", "immersion"}


def test_a_lab_of_few_brews_sees_every_one_of_them_in_a_panel(tmp_path):
    facts = made_up_lab.made_up_facts(n_brews=3, methods=("moka", "espresso"), seed=4)
    drawn = {chart["panel"] for chart in page_data(write(tmp_path, facts))["charts"] if chart["brush"]}

    assert drawn == set(facts.filter(pl.col("extraction_yield_pct").is_not_null())["method"])


def test_what_stays_out_of_print_says_where_it_is(page):
    folds = re.findall(r'<details class="screen".*?</details><p class="note paper">(.*?)</p>', page, flags=re.DOTALL)

    assert "<code>brewtrials facts</code>" in folds[0]
    assert len(folds) == 1  # every brew's strength and yield


def test_the_effects_table_keeps_the_side_of_zero_and_gives_levels_no_p(tmp_path):
    one = made_up_lab.made_up_effects(FACTS, "espresso")
    grind = pl.col("term") == "grind_steps_finer"
    near = one.result.table.with_columns(
        estimate=pl.when(grind).then(0.1045).otherwise("estimate"),
        low=pl.when(grind).then(-0.001).otherwise("low"),
        high=pl.when(grind).then(0.21).otherwise("high"),
    )
    html = write(tmp_path, effects=[MethodEffects("espresso", replace(one.result, table=near))])

    part = re.search(r"<caption>Effects on extraction yield.*?</table>", html, flags=re.DOTALL).group(0)
    rows = [re.findall(r"<td[^>]*>(.*?)</td>", row) for row in part.split("<tr>")[2:]]
    (level,) = [row for row in rows if row[1].startswith("None: yield at average settings")]
    (finer,) = [row for row in rows if row[1] == "One step finer"]
    assert finer[3].replace("\u2212", "-").replace("\u00a0", " ") == "-0.001 to 0.210"
    assert level[6] == ""
    assert finer[6] != ""
    assert "an error common to all readings is not in these intervals" in part


def test_intervals_say_what_they_do_not_hold(page):
    text = Outline(page).text

    assert "The intervals hold the scatter of brews, not an error common to all readings." in text
    assert "Mean extraction yield, clean and channeled, all coffees together" in text
    assert "is not known, it is left out and the bar is too short" in text
