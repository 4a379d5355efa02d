"""The page on measurement in a real browser, offline: drawn, filtered, printed, readable on a phone and in the dark."""

from __future__ import annotations

import measured_lab
import measured_pages
import pytest

from pipeline.publish.measurement.page import write_measurement

pytestmark = pytest.mark.browser
LONG = {
    "R1": "A refractometer with a long name, the one by the window, second shelf, blue cap",
    "R2": "Another-refractometer-whose-name-has-no-place-to-break-and-goes-on-for-quite-a-while",
    "S1": "The weighing scale that stands on the left of the bar",
    "oven": "The old drying oven in the cellar, left of the stairs",
}
PAYLOADS = {
    "R1": "</script><script>window.owned=1</script>",
    "R2": "<img src=x onerror=window.owned=1>",
    "S1": "\"'><svg onload=window.owned=1>",
    "oven": "{{constructor.constructor('window.owned=1')()}}",
}


def made(tmp_path_factory, **more):
    folder = tmp_path_factory.mktemp("measured")
    lab = measured_pages.take_in(folder, measured_lab.files(**more))
    return write_measurement(measured_pages.measured(lab), folder / "out")


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    return made(tmp_path_factory)


@pytest.fixture
def tab(open_tab, page):
    return open_tab(page)


def shown(tab):
    return tab.run(
        "[...document.querySelectorAll('figure')].filter(f => f.offsetParent).map(f => f.querySelector('.chart').id)"
    )


def marks(tab, chart, layer):
    return tab.run(f"document.querySelectorAll('#{chart} g[class*={layer}] path').length")


def click(tab, selector):
    tab.run(f"document.querySelector({selector!r}).click()")
    tab.settle()


def test_every_chart_is_drawn_without_a_complaint_or_a_request(tab, page):
    drawn = tab.run("""Object.fromEntries([...document.querySelectorAll('.chart')].map(chart =>
        [chart.id, chart.querySelectorAll('.mark-symbol path, .mark-rect path, .mark-rule line').length]))""")

    assert len(drawn) == int(tab.run("document.documentElement.dataset.drawn")) > 15
    assert {chart: n for chart, n in drawn.items() if n < 2} == {}
    assert tab.complaints == []
    assert tab.requests == [page.as_uri()]
    assert tab.run("document.getElementById('status').textContent") == f"Shown: {len(drawn)} of {len(drawn)} charts"


def test_charts_show_every_check_pair_and_reading_of_the_study(tab):
    assert marks(tab, "checks-0-0", "points") == 10
    assert marks(tab, "agreement-2-gap", "points") == measured_lab.BOTH
    assert marks(tab, "gauge-0-readings", "points") == measured_lab.STUDIED * 3 * 3
    assert marks(tab, "checks-1-1", "doubt") == 1


def test_the_line_between_two_instruments_stays_within_the_brews(tab):
    ends = tab.run("""(() => {
        const box = document.querySelector('#agreement-2-line g[class*=deming] path').getBoundingClientRect();
        const xs = [...document.querySelectorAll('#agreement-2-line g[class*=points] path')]
            .map(path => path.getBoundingClientRect()).map(r => r.x + r.width / 2);
        return [box.left, box.right, Math.min(...xs), Math.max(...xs)];
    })()""")

    assert ends[0] >= ends[2] - 2
    assert ends[1] <= ends[3] + 2


def test_charts_are_described_for_screen_readers(tab):
    described = tab.run(
        "[...document.querySelectorAll('.chart svg')].map(svg => svg.parentNode.ariaLabel || svg.ariaLabel)"
    )

    assert len(described) > 15
    assert all(label and len(label) > 40 for label in described)


def test_filters_by_method_and_instrument_hide_whole_charts_and_count_them(tab):
    everything = shown(tab)
    click(tab, "input[name=m][value='1']")
    of_espresso = shown(tab)
    assert "budget-1" in of_espresso
    assert "budget-0" not in of_espresso
    assert "checks-0-0" in of_espresso

    click(tab, "input[name=n][value='0']")
    on_first = shown(tab)
    assert "checks-0-0" in on_first
    assert "checks-1-0" not in on_first
    assert "agreement-2-gap" in on_first  # R2 against R1 is about both
    assert "agreement-1-gap" not in on_first  # R2 against the oven
    hidden = len(everything) - len(on_first)
    assert f"the filter hides {hidden}" in tab.run("document.getElementById('status').textContent")

    click(tab, "#filters button")
    assert shown(tab) == everything
    assert tab.complaints == []


def test_hovering_a_point_says_its_numbers(tab):
    tab.run("document.getElementById('agreement-2-gap').scrollIntoView({block: 'center'})")
    tab.settle()
    spot = tab.run("""(r => [r.x + r.width / 2, r.y + r.height / 2])(
        [...document.querySelectorAll('#agreement-2-gap g[class*="points"] path')].at(-1).getBoundingClientRect())""")
    tab.mouse("mouseMoved", *spot)
    tab.settle()

    card = tab.run("document.getElementById('card').textContent")
    assert card.startswith("PO-0")
    assert "R1 1." in card
    assert "R2 1." in card


def test_controls_are_reached_by_keyboard(tab):
    tab.run("document.querySelector('#bar summary').focus()")
    for kind in ("keyDown", "keyUp"):
        tab.call("Input.dispatchKeyEvent", type=kind, key="Enter", code="Enter", text="\r", windowsVirtualKeyCode=13)
    tab.settle()
    reached = tab.run("""[...document.querySelectorAll('a, summary, input, button, [tabindex]')]
        .filter(e => e.tabIndex >= 0).map(e => e.tagName.toLowerCase())""")

    assert tab.run("document.querySelector('#bar details').open")
    assert {"a", "summary", "input", "button", "div"} <= set(reached)


@pytest.mark.parametrize("names", [None, LONG], ids=["usual names", "long names"])
def test_a_phone_never_scrolls_sideways(open_tab, tmp_path_factory, names):
    tab = open_tab(made(tmp_path_factory, names=names), width=390, height=844)
    tab.run("document.querySelectorAll('details').forEach(fold => { fold.open = true; })")
    tab.settle()

    assert tab.run("document.documentElement.scrollWidth") == 390
    too_wide = "[...document.querySelectorAll('.chart svg')].filter(s => s.getBoundingClientRect().right > 391).length"
    assert tab.run(too_wide) == 0
    assert tab.complaints == []


def test_dark_follows_the_readers_system(open_tab, page):
    dark = open_tab(page, dark=True)

    assert dark.run("getComputedStyle(document.body).backgroundColor") == "rgb(21, 24, 28)"
    axis = "getComputedStyle(document.querySelector('#checks-0-0 .role-axis-label text')).fill"
    assert dark.run(axis) == "rgb(236, 239, 242)"


def test_print_unfolds_the_tables_on_black_and_white(open_tab, page):
    tab = open_tab(page, dark=True)
    assert tab.pdf().startswith(b"%PDF")
    tab.call("Emulation.setEmulatedMedia", media="print", features=[{"name": "prefers-color-scheme", "value": "dark"}])
    tab.run("window.dispatchEvent(new Event('beforeprint'))")

    hidden = "[...document.querySelectorAll('main table')].filter(table => !table.checkVisibility()).length"
    assert tab.run(hidden) == 0
    assert tab.run("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert tab.run("getComputedStyle(document.getElementById('bar')).display") == "none"
    assert tab.run("document.querySelector('#checks-0-0 svg').getBBox().width") < 344
    drawn = ", ".join(f"[id^={name}-] svg text" for name in ("smallest", "budget", "gauge"))
    texts = f"[...document.querySelectorAll('{drawn}')].map(text => text.textContent)"
    assert [text for text in tab.run(texts) if text.endswith("…")] == []


def test_without_scripts_the_numbers_are_there(open_tab, page):
    tab = open_tab(page, scripts=False)
    root = tab.call("DOM.getDocument")["root"]["nodeId"]
    html = tab.call("DOM.getOuterHTML", nodeId=root)["outerHTML"]

    assert "Charts and filters need scripts" in html
    assert "A single pour over yield is good to" in html


def test_payloads_in_every_name_do_nothing(open_tab, tmp_path_factory):
    page = made(tmp_path_factory, names=PAYLOADS, prefix="<img src=x onerror=window.owned=1>")
    tab = open_tab(page)
    tab.run("document.getElementById('agreement-2-gap').scrollIntoView({block: 'center'})")
    tab.settle()
    spot = tab.run("""(r => [r.x + r.width / 2, r.y + r.height / 2])(
        document.querySelector('#agreement-2-gap g[class*="points"] path').getBoundingClientRect())""")
    tab.mouse("mouseMoved", *spot)
    tab.settle()
    click(tab, "input[name=n][value='0']")

    assert tab.run("typeof window.owned") == "undefined"
    assert tab.run("document.querySelectorAll('script').length") == 3
    assert tab.run("document.querySelectorAll('img, [onload], [onerror]').length") == 0
    assert "<img src=x" in tab.run("document.getElementById('card').textContent")
    assert tab.complaints == []
    assert tab.requests == [page.as_uri()]


def test_a_lab_with_nothing_to_say_still_opens_quietly(open_tab, tmp_path):
    page = write_measurement(measured_pages.measured(measured_pages.take_in(tmp_path, {})), tmp_path / "out")
    tab = open_tab(page)

    assert tab.run("document.documentElement.dataset.drawn") == "0"
    assert "There are no brews yet" in tab.run("document.querySelector('.said').textContent")
    assert tab.complaints == []
