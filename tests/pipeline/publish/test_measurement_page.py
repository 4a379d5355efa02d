"""The page on measurement: answers first, every chart with its table and note, refusals that say what would help."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser

import measured_lab
import measured_pages
import numpy as np
import polars as pl
import pytest

from pipeline.publish.build import build_dashboard
from pipeline.publish.embed import content_hash
from pipeline.publish.measurement.page import SECTIONS, measurement_html, write_measurement

HEADINGS = [
    "How good are the numbers?",
    "What makes a yield uncertain",
    "The smallest difference worth talking about",
    "How far readings of one brew scatter",
    "Do the instruments hold still?",
    "Do two instruments agree?",
    "Does it matter who reads?",
    "Do the weights add up?",
    "What does an oven say?",
    "What holds for all of this",
]
PAYLOADS = {
    "R1": "</script><script>window.owned=1</script>",
    "R2": "<img src=x onerror=window.owned=1>",
    "S1": "\"'><svg onload=window.owned=1>",
    "oven": "<b>oven</b>",
}
ONE_SHEET = "Date,Coffee,Method,Dose (g),Water (g),Beverage (g)"


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    return measured_pages.take_in(tmp_path_factory.mktemp("rich"), measured_lab.files())


@pytest.fixture(scope="module")
def page(lab):
    return measured_pages.measured(lab)


@pytest.fixture(scope="module")
def html(page):
    return measurement_html(page)


class Text(HTMLParser):
    """The text outside scripts, styles and folded parts."""

    def __init__(self, html, *, folded=False):
        super().__init__()
        self.hidden, self.texts = [], []
        self.skipped = ("script", "style", "title") if folded else ("script", "style", "title", "details")
        self.feed(html)
        self.text = re.sub(r"\s+", " ", " ".join(self.texts).replace("\u00a0", " "))

    def handle_starttag(self, tag, attrs):
        if tag in self.skipped:
            self.hidden.append(tag)

    def handle_endtag(self, tag):
        if tag in self.skipped:
            self.hidden.pop()

    def handle_data(self, data):
        if not self.hidden:
            self.texts.append(data)


def text_of(html, **look):
    return Text(html, **look).text


def part(html, section_id):
    return re.search(rf'<section id="{section_id}".*?</section>', html, flags=re.DOTALL).group(0)


def page_data(html):
    return json.loads(re.search(r'id="page-data">(.*?)</script>', html).group(1))


def test_it_lies_beside_the_dashboard_and_each_leads_to_the_other(lab, tmp_path):
    index, _, beside = build_dashboard(lab, tmp_path)

    assert 'href="measurement.html"' in index.read_text(encoding="utf-8")
    assert 'href="index.html"' in beside.read_text(encoding="utf-8")
    assert re.findall(r'href="(.*?)"', beside.read_text(encoding="utf-8").split("<script")[0]) == ["index.html"]


def test_the_same_input_gives_the_same_bytes(lab, html, tmp_path):
    written = write_measurement(measured_pages.measured(lab), tmp_path)

    assert written.read_bytes() == html.encode()


def test_nothing_is_fetched_and_only_hashed_scripts_run(html):
    scripts = re.findall(r"<script>(.*?)</script>", html, flags=re.DOTALL)
    (style,) = re.findall(r"<style>(.*?)</style>", html, flags=re.DOTALL)
    allowed = unescape(re.search(r'Content-Security-Policy" content="(.*?)"', html).group(1))

    assert allowed.startswith("default-src 'none'; script-src 'sha256-")
    assert len(scripts) == 2
    assert all(content_hash(text) in allowed for text in (*scripts, style))
    assert not re.search(r"<(link|img|iframe|object|embed|form action)\b", html.split("<script")[0])
    assert not re.search(r"\s(src|style|on\w+)=", html[html.index("<body>") : html.index("<script type=")])


def test_reads_top_to_bottom(html):
    assert [unescape(found) for found in re.findall(r"<h[12]>(.*?)</h[12]>", html.split("<script")[0])] == HEADINGS


def test_every_chart_is_valid_described_and_has_its_place(page, html):
    drawings = [drawing for make in SECTIONS for drawing in make(page).drawings]
    places = re.findall(r'<div class="chart" id="(.*?)">', html)

    assert [drawing.chart_id for drawing in drawings] == places
    assert len(set(places)) == len(places) > 15
    for drawing in drawings:
        spec = drawing.chart.to_dict()  # checked against the Vega-Lite schema
        assert len(spec["description"]) > 40, drawing.chart_id
        assert not re.search(r"(view|param)_\d+", json.dumps(spec)), "a counter in a name changes from run to run"


def test_every_section_with_charts_has_a_folded_table_and_a_folded_method_note(html):
    for section_id in ("budgets", "smallest", "readings", "checks", "agreement", "gauge", "masses"):
        folds = re.findall(r"<details><summary>(.*?)</summary>(.*?)</details>", part(html, section_id), flags=re.DOTALL)

        assert any("<table>" in content for _, content in folds), section_id
        assert any(name.startswith("Method note") for name, _ in folds), section_id


def test_the_first_screen_answers_with_numbers_of_every_method(page, html):
    head = text_of(html.split("Filter the charts")[0])
    pour_over = page.brews.filter(pl.col("method") == "pour_over")["extraction_yield_expanded_u_pct"].sort()

    middle = pour_over[(pour_over.len() - 1) // 2]
    assert f"A single pour over yield is good to ±{middle:.2f} points (95 % interval; the middle of 30 brews)" in head
    assert "The others: espresso ±" in head
    assert "(16 brews)" in head
    for one in page.smallest:
        assert f"{one.measured.critical:.2f} / {one.measured.detectable:.2f}" in head
        assert f"{one.usual.critical:.2f} / {one.usual.detectable:.2f}" in head


def test_readings_of_both_instruments_are_pictured_with_their_scatter(html):
    said = text_of(part(html, "readings"))

    assert "R1: pour over" in said
    assert "R2: espresso" in said
    assert re.search(
        r"Standard deviation of a reading: 0\.0\d\d % \(95 % interval 0\.0\d\d to 0\.0\d\d; \d+ brews", said
    )


def test_the_failed_check_is_named_and_its_span_shaded(html):
    checks = part(html, "checks")
    charts = {chart["id"]: chart["spec"] for chart in page_data(html)["charts"]}

    assert "R2 failed its reference check on 30 March 2026 08:00" in text_of(checks)
    assert "From 23 March 2026 08:00 until 6 April 2026 08:00: nothing was read." in text_of(checks)
    shaded = [name for name, spec in charts.items() if '"name":"doubt"' in json.dumps(spec, separators=(",", ":"))]
    assert shaded == ["checks-1-0", "checks-1-1"]
    assert "No correction is applied to R1: lab.toml declares none." in text_of(checks)


def test_two_instruments_are_compared_with_bias_limits_and_line(page, html):
    said = text_of(part(html, "agreement"))
    pairs = page.brews.join(
        pl.DataFrame({"brew_id": [f"PO-{k + 1:03}" for k in range(measured_lab.BOTH)]}), on="brew_id"
    )

    gap = next(one for one in page.pairs if (one.a, one.b) == ("R1", "R2"))
    assert gap.n_brews == pairs.height == 12
    assert f"R2 reads {gap.bias.value:.3f} % TDS higher than R1 on average (95 % interval" in said
    assert abs(gap.bias.value - measured_lab.GAP_PCT) < 0.02
    assert "of one sample" in said.lower()
    assert "Deming's line: slope" in said
    assert "R1 against oven" in said


def test_the_gauge_study_says_how_much_is_the_gauge_and_who_read(html):
    said = text_of(part(html, "gauge"))

    assert "R1, study readers" in said
    assert "from 6 brews, 3 readers and 54 readings" in said
    assert "Ines Jonas Mirek" in said
    assert re.search(
        r"(Ines|Jonas|Mirek)( reads|: no gap shown).{20,90}\(95 % interval [+-]0\.\d{3} to .{6}; 6 brews\)", said
    )


def test_a_wrong_weight_is_named_with_what_would_explain_it(html):
    said = text_of(part(html, "masses"))

    assert "1 brew stands apart: look for a weighing error." in said
    assert f"Brew {measured_lab.WRONG_WEIGHT} (pour over):" in said
    assert "it would fit if spent grounds were about" in said


def test_the_residuals_are_what_the_weights_leave(html, lab):
    rows = re.findall(
        r"<tr><td>(PO-\d+)</td><td>pour over</td><td class=\"n\">([+-]?[\d.]+)</td>", part(html, "masses")
    )
    store = pl.DataFrame(measured_pages.measured(lab).masses).filter(pl.col("spent_wet_g").is_not_null())
    by_hand = {
        row["brew_id"]: row["dose_g"] + row["water_g"] - row["beverage_g"] - row["spent_wet_g"]
        for row in store.iter_rows(named=True)
    }

    assert len(rows) == measured_lab.CLOSED
    assert {name: float(value) for name, value in rows} == pytest.approx(by_hand, abs=0.006)


def test_dried_samples_stand_in_a_table_with_the_caution(html):
    said = text_of(part(html, "drying"))

    assert "3 brews with a strength by drying (6 dishes)" in said
    assert re.search(r"PO-001 oven 1\.\d{3} 1\.\d{3} to 1\.\d{3} 2 0 1\.\d{3}", said)
    assert "Drying ovens and hot dishes burn" in said


def test_figures_say_which_filter_hides_them(html):
    figures = re.findall(r"<figure( [^>]*)?><h3>(.*?)</h3>", html)
    carried = {unescape(title): attributes for attributes, title in figures}

    assert carried["R2 against R1"] == ' data-instrument="R1" data-second="R2"'
    assert carried["R1: zero on water"] == ' data-instrument="R1"'
    assert 'data-method="espresso"' in carried["R2: espresso"]
    assert page_data(html)["filters"] == {
        "m": [["method"], ["pour_over", "espresso"]],
        "n": [["instrument", "second"], ["R1", "R2", "oven"]],
    }


def test_a_declared_correction_is_stated(tmp_path):
    correction = '\n[correction.R2]\noffset = 0.03\nstandard_uncertainty = 0.01\nnote = "ten checks"\n'
    lab = measured_pages.take_in(tmp_path, measured_lab.files(), settings=correction)
    index, _, beside = (path.read_text(encoding="utf-8") for path in build_dashboard(lab, tmp_path / "out"))
    html = measurement_html(measured_pages.measured(lab))

    for page in (index, beside):
        assert "Every reading is corrected, as lab.toml says: R2: reading - 0.03" in text_of(page)
    assert "lab.toml corrects every reading on R2: reading - 0.03" in text_of(part(html, "checks"))
    assert "Strength: the declared correction" in text_of(part(html, "budgets"), folded=True)


def test_payloads_in_names_do_nothing(tmp_path):
    lab = measured_pages.take_in(tmp_path, measured_lab.files(names=PAYLOADS, prefix="<i>"))
    html = measurement_html(measured_pages.measured(lab))
    body = html[html.index("<body>") :]

    assert body.count("<script") == 3
    assert not any(payload in body for payload in (*PAYLOADS.values(), "<i>"))
    assert "&lt;img src=x onerror=window.owned=1&gt;" in body


def test_an_empty_project_says_what_to_hand_in(tmp_path):
    html = measurement_html(measured_pages.measured(measured_pages.take_in(tmp_path, {})))

    assert "There are no brews yet, so there is no number to judge." in text_of(html)
    assert page_data(html)["charts"] == []
    assert [unescape(found) for found in re.findall(r"<h[12]>(.*?)</h[12]>", html.split("<script")[0])] == HEADINGS


def test_a_log_without_instruments_is_told_what_would_let_the_page_answer(tmp_path):
    rows = "".join(f"2026-04-0{day},Quiet Hill,espresso,20,60,40,10\n" for day in range(1, 4))
    lab = measured_pages.take_in(tmp_path, {"brews.csv": f"{ONE_SHEET},TDS (%)\n{rows}"})
    said = text_of(measurement_html(measured_pages.measured(lab)))

    assert "That cannot be said yet: none of the 3 yields has an uncertainty." in said
    assert "Name the refractometer of each reading (instrument_id)" in said
    assert "No check is logged" in said
    assert "No reading names its instrument, so there is nothing to compare." in said
    assert "let three people read each of six to ten brews three times" in said
    assert "No sample was dried in an oven" in said


def test_one_instrument_alone_is_told_to_read_ten_brews_on_a_second(tmp_path):
    files = measured_lab.files()
    kept = {name: files[name] for name in ("coffees.csv", "instruments.csv", "brews.csv", "readings.csv")}
    kept["readings.csv"] = "\n".join(line for line in kept["readings.csv"].splitlines() if ",R2," not in line) + "\n"
    said = text_of(measurement_html(measured_pages.measured(measured_pages.take_in(tmp_path, kept))))

    assert "Readings on one instrument only" in said
    assert "Read 10 brews of different strength on a second one too" in said
    assert "No check of R1 is logged" in said


def test_two_instruments_on_no_common_brew_are_told_to_read_ten_on_both(tmp_path):
    files = measured_lab.files()
    kept = {name: files[name] for name in ("coffees.csv", "instruments.csv", "brews.csv", "readings.csv")}
    lines = kept["readings.csv"].splitlines()
    kept["readings.csv"] = "\n".join(line for line in lines if not line.startswith("PO") or ",R1," in line) + "\n"
    said = text_of(measurement_html(measured_pages.measured(measured_pages.take_in(tmp_path, kept))))

    assert "R1 and R2: no brew was measured on both." in said
    assert "read 10 brews on both, weak and strong ones" in said


def test_many_brews_are_sampled_and_the_page_stays_light(page):
    rng = np.random.default_rng(3)
    many = pl.concat([page.masses.with_columns(brew_id=pl.col("brew_id") + f"-{k}") for k in range(400)])
    many = many.with_columns(retained_ratio=pl.Series(rng.normal(2.1, 0.05, many.height)))
    html = measurement_html(replace(page, masses=many))

    assert many.height > 15_000
    assert len(html.encode()) < 3_000_000


def test_a_brew_that_makes_most_of_the_scatter_is_named_beside_the_smallest_differences(tmp_path):
    """One drop of ES-016 read 8.0 and 9.9 %: beside it the other drops' repeats of 0.03 % are nothing."""
    files = measured_lab.files()
    kept = [line for line in files["readings.csv"].splitlines() if not line.startswith("ES-016,")]
    wide = ["ES-016,R2,1,1,8.00,", "ES-016,R2,1,2,9.90,"]
    files["readings.csv"] = "\n".join([*kept, *wide]) + "\n"
    html = measurement_html(measured_pages.measured(measured_pages.take_in(tmp_path, files)))
    assert "is that of one brew: ES-016 was read 8.00 to 9.90 %. Check its record first." in text_of(
        part(html, "smallest")
    )
