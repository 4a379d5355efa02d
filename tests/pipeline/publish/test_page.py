from __future__ import annotations

import json
import re
from html.parser import HTMLParser

import made_up_lab
import polars as pl
import pytest

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
        "What moved extraction?",
        "What was brewed, and how clean the data are",
        "Strength against yield",
        "Yield by coffee and method",
        "Effects on yield",
        "Channeled against clean brews",
        "Can the models be trusted?",
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

    assert "manifest 7 of Riverside Test Kitchen. Brewed 2 March to 17 April 2026." in footer
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
