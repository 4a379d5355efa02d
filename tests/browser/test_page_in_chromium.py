"""The page in a real browser, offline: drawn, quiet, linked, readable everywhere, and deaf to what a log says."""

from __future__ import annotations

import shutil

import chromium
import made_up_lab
import pages
import pytest

pytestmark = pytest.mark.browser
MARKS_OF = """Object.fromEntries([...document.querySelectorAll('.chart')].map(chart =>
    [chart.id, chart.querySelectorAll('.mark-symbol path, .mark-rect path, .mark-rule line').length]))"""


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    return pages.write(tmp_path_factory.mktemp("page"), made_up_lab.made_up_facts())


@pytest.fixture(scope="module")
def shared_tab(browser, page):
    opened = browser.open(page)
    yield opened
    opened.close()


@pytest.fixture
def tab(shared_tab):
    """The page as it opens; what a test filters or marks is taken back after it."""
    yield shared_tab
    shared_tab.run("document.getElementById('filters').reset(); document.getElementById('clear').click()")
    shared_tab.settle()


def points(tab, chart):
    """How many brews one chart shows, and how many of them are not faded."""
    return tab.run(f"""(() => {{
        const all = [...document.querySelectorAll('#{chart} g[class*="points"] path')];
        return [all.length, all.filter(path => Number(path.getAttribute('opacity') ?? 1) > 0.5).length];
    }})()""")


def click(tab, selector):
    tab.run(f"document.querySelector({selector!r}).click()")
    tab.settle()


def text_of(tab, element):
    return tab.run(f"document.getElementById({element!r}).textContent")


def test_without_chromium_the_tests_fail_and_say_what_to_install(monkeypatch):
    monkeypatch.setattr(shutil, "which", lambda _name: None)

    with pytest.raises(AssertionError, match="apt-get install chromium"):
        chromium.chromium_path()


def test_every_chart_is_drawn_without_a_complaint_or_a_request(tab, page):
    drawn = tab.run(MARKS_OF)

    assert len(drawn) == int(tab.run("document.documentElement.dataset.drawn"))
    assert len(drawn) > 15
    assert {chart: n for chart, n in drawn.items() if n < 3} == {}
    assert tab.complaints == []
    assert tab.requests == [page.as_uri()]


def test_charts_are_described_for_screen_readers(tab):
    described = tab.run(
        "[...document.querySelectorAll('.chart svg')].map(svg => svg.parentNode.ariaLabel || svg.ariaLabel)"
    )

    assert len(described) > 15
    assert all(label and len(label) > 30 for label in described)


def test_a_coffee_filter_narrows_every_chart_of_brews_and_counts_what_it_hides(tab):
    before = {chart: points(tab, chart)[0] for chart in ("strength-0", "yields-0", "channeling-0")}
    bars = tab.run("document.querySelectorAll('#days .mark-rect path').length")

    click(tab, "input[name=k][value='0']")

    after = {chart: points(tab, chart)[0] for chart in before}
    assert all(0 < after[chart] < before[chart] for chart in before)
    assert 0 < tab.run("document.querySelectorAll('#days .mark-rect path').length") < bars
    total, left = (
        tab.run(f"{part}")
        for part in (
            "297",
            "Number(/Drawn: (\\d+)/.exec(status_text())[1])".replace(
                "status_text()", "document.getElementById('status').textContent"
            ),
        )
    )
    assert f"the filter hides {total - left}" in text_of(tab, "status")
    assert f"leaves {after['strength-0']} of" in tab.run("document.querySelector('[data-for=strength-0]').textContent")

    click(tab, "#filters button")

    assert {chart: points(tab, chart)[0] for chart in before} == before
    assert text_of(tab, "status") == "Drawn: 297 of 297 brews"


def test_a_method_filter_leaves_that_methods_panels(tab):
    click(tab, "input[name=m][value='1']")

    shown = tab.run(
        "[...document.querySelectorAll('figure')].filter(f => f.offsetParent).map(f => f.querySelector('.chart').id)"
    )
    assert "strength-1" in shown
    assert "strength-0" not in shown
    assert tab.complaints == []


def test_operator_and_date_filters_narrow_too(tab):
    all_points = points(tab, "strength-0")[0]
    click(tab, "input[name=o][value='2']")
    one_operator = points(tab, "strength-0")[0]
    tab.run("document.getElementById('from').value = '2026-04-01'")
    tab.run("document.getElementById('filters').dispatchEvent(new Event('change', {bubbles: true}))")
    tab.settle()

    assert all_points > one_operator > points(tab, "strength-0")[0] > 0


def test_the_mean_of_a_filtered_row_is_drawn_anew(tab):
    where = "document.querySelector('#yields-0 g[class*=interval_95] line').getBoundingClientRect().width"
    before = tab.run(where)
    tab.run("document.getElementById('from').value = '2026-03-25'")
    tab.run("document.getElementById('filters').dispatchEvent(new Event('change', {bubbles: true}))")
    tab.settle()

    assert tab.run(where) != before


def test_a_brush_marks_the_same_brews_in_every_chart_and_clears(tab):
    tab.run("document.getElementById('strength-0').scrollIntoView({block: 'center'})")
    tab.settle()
    x, y, width, height = tab.run(
        "(r => [r.x, r.y, r.width, r.height])(document.querySelector('#strength-0 svg').getBoundingClientRect())"
    )
    everywhere = ("strength-0", "yields-0", "channeling-0")
    before = {chart: points(tab, chart) for chart in everywhere}
    assert all(n == clear for n, clear in before.values())

    tab.drag((x + 0.4 * width, y + 0.3 * height), (x + 0.75 * width, y + 0.6 * height))

    brushed = {chart: points(tab, chart) for chart in everywhere}
    marked = int(text_of(tab, "marked").split()[0])
    assert 0 < marked < before["strength-0"][0]
    assert brushed["strength-0"] == [before["strength-0"][0], marked]
    assert brushed["yields-0"][1] == marked
    assert 0 < brushed["channeling-0"][1] <= marked
    assert points(tab, "strength-1")[1] == 0

    click(tab, "#clear")

    assert {chart: points(tab, chart) for chart in everywhere} == before
    assert text_of(tab, "marked") == ""


def test_hovering_a_brew_shows_its_card(tab):
    tab.run("document.getElementById('strength-0').scrollIntoView({block: 'center'})")
    tab.settle()
    spot = tab.run("""(r => [r.x + r.width / 2, r.y + r.height / 2])(
        [...document.querySelectorAll('#strength-0 g[class*="points"] path')].at(-1).getBoundingClientRect())""")
    tab.mouse("mouseMoved", *spot)
    tab.settle()

    card = text_of(tab, "card")
    assert not tab.run("document.getElementById('card').hidden")
    assert card.startswith("b-")
    assert "espresso" in card
    assert "g dose" in card
    assert "standard uncertainty" in card


def test_controls_are_reached_by_keyboard(tab):
    reached = tab.run("""[...document.querySelectorAll('summary, input, button, [tabindex]')]
        .filter(e => e.tabIndex >= 0).map(e => e.tagName.toLowerCase())""")

    assert {"summary", "input", "button", "div"} <= set(reached)
    tab.run("document.querySelector('#bar summary').focus()")
    for kind in ("keyDown", "keyUp"):
        tab.call("Input.dispatchKeyEvent", type=kind, key="Enter", code="Enter", text="\r", windowsVirtualKeyCode=13)
    tab.settle()
    assert tab.run("document.querySelector('#bar details').open")


@pytest.mark.parametrize("names", [made_up_lab.COFFEES[:6], pages.LONG_NAMES], ids=["usual names", "12 long names"])
def test_a_phone_never_scrolls_sideways(open_tab, tmp_path, names):
    tab = open_tab(pages.write(tmp_path, made_up_lab.made_up_facts(n_brews=160, coffees=names)), width=390, height=844)
    tab.run("document.querySelectorAll('details').forEach(fold => { fold.open = true; })")
    tab.settle()

    assert tab.run("document.documentElement.scrollWidth") == 390
    too_wide = (
        "[...document.querySelectorAll('.chart svg')].filter(svg => svg.getBoundingClientRect().right > 391).length"
    )
    assert tab.run(too_wide) == 0
    assert tab.complaints == []


def test_dark_follows_the_readers_system(open_tab, page):
    dark, light = open_tab(page, dark=True), open_tab(page)
    paper = "getComputedStyle(document.body).backgroundColor"
    axis = "getComputedStyle(document.querySelector('#strength-0 .role-axis-label text')).fill"

    assert dark.run(paper) == "rgb(21, 24, 28)"
    assert light.run(paper) == "rgb(255, 255, 255)"
    assert dark.run(axis) == "rgb(236, 239, 242)"
    assert light.run(axis) == "rgb(27, 30, 34)"


def test_the_zero_line_of_effects_keeps_clear_of_the_names(open_tab, page):
    tab = open_tab(page, width=390)
    boxes = "[...document.querySelectorAll('#effects-0 g[class*={}] {}')].map(e => e.getBoundingClientRect())"
    ends = tab.run(f"{boxes.format('names', 'text')}.map(r => [r.top, r.bottom])")
    lines = tab.run(f"{boxes.format('zero', 'path')}.map(r => [r.top, r.bottom])")

    assert len(ends) == len(lines) == 4
    assert all(top > name[1] - 2 or bottom < name[0] + 2 for top, bottom in lines for name in ends)


def test_without_scripts_the_numbers_are_there(open_tab, page):
    tab = open_tab(page, scripts=False)
    root = tab.call("DOM.getDocument")["root"]["nodeId"]
    html = tab.call("DOM.getOuterHTML", nodeId=root)["outerHTML"]

    assert "Charts and filters need scripts" in html
    assert "b-0001" in html


def test_payloads_in_every_field_do_nothing(open_tab, tmp_path):
    page = pages.write_hostile(tmp_path)
    tab = open_tab(page)
    tab.run("document.getElementById('strength-0').scrollIntoView({block: 'center'})")
    tab.settle()
    spots = tab.run("""[...document.querySelectorAll('#strength-0 g[class*="points"] path')].slice(0, 12)
        .map(path => path.getBoundingClientRect()).map(r => [r.x + r.width / 2, r.y + r.height / 2])""")
    for spot in spots:
        tab.mouse("mouseMoved", *spot)
        tab.settle()
    card = text_of(tab, "card")
    click(tab, "input[name=k][value='0']")
    click(tab, "input[name=o][value='0']")

    assert tab.run("typeof window.owned") == "undefined"
    assert tab.run("document.querySelectorAll('script').length") == 3
    assert tab.run("document.querySelectorAll('img, [onload], [onerror], a').length") == 0
    assert any(payload in card for payload in pages.PAYLOADS)
    assert pages.PAYLOADS[0] in tab.run("document.title")
    assert tab.complaints == []
    assert tab.requests == [page.as_uri()]


def test_a_hundred_thousand_brews_stay_light(open_tab, tmp_path):
    facts = made_up_lab.made_up_facts(n_brews=2_500)
    many = made_up_lab.repeated(facts, times=40)
    page = pages.write(tmp_path, many)
    tab = open_tab(page)

    assert many.height == 100_000
    assert page.stat().st_size < 3_000_000
    assert tab.complaints == []
    assert "Drawn: 1," in text_of(tab, "status")
