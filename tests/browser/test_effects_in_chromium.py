from __future__ import annotations

import moved_pages
import pytest
from test_page_in_chromium import click, points

from pipeline.publish.effects.page import write_effects

HOSTILE = ("</script><script>window.owned=1</script>", "<img src=x onerror=window.owned=1>")


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    folder = tmp_path_factory.mktemp("effects")
    return write_effects(moved_pages.moved(moved_pages.take_in(folder)), folder / "out")


@pytest.fixture(scope="module")
def tab(browser, page):
    opened = browser.open(page)
    yield opened
    opened.close()


def marks(tab, chart, layer, shape="path"):
    return tab.run(f"document.querySelectorAll('#{chart} g[class*={layer}] {shape}').length")


def lines(tab, chart):
    return tab.run(f"document.querySelectorAll('#{chart} g.mark-line > path').length")


def test_every_chart_is_drawn_without_a_complaint_or_a_request(tab, page):
    places = tab.run("document.querySelectorAll('.chart').length")

    assert int(tab.run("document.documentElement.dataset.drawn")) == places > 10
    assert tab.complaints == []
    assert tab.requests == [page.resolve().as_uri()]


def test_marks_are_as_many_as_there_are_brews_coffees_and_settings(tab):
    # The invented lab: 42 brews of three coffees, three settings.
    assert points(tab, "lines-pour_over-grind-steps-finer")[0] == 42
    assert lines(tab, "lines-pour_over-grind-steps-finer") == 3
    assert marks(tab, "forest-pour_over", "estimates") == 3
    assert marks(tab, "slopes-pour_over-0", "estimates") == 3
    assert marks(tab, "left-out-pour_over", "estimates") == 4
    assert points(tab, "residuals-pour_over-time")[0] == 42


def test_a_coffee_filter_takes_its_brews_and_its_line_away(tab):
    click(tab, "input[name=k][value='0']")

    assert points(tab, "lines-pour_over-grind-steps-finer")[0] == 14
    assert lines(tab, "lines-pour_over-grind-steps-finer") == 1

    click(tab, "#filters button")
    assert points(tab, "lines-pour_over-grind-steps-finer")[0] == 42


def test_a_phone_sees_every_chart_whole(browser, page):
    phone = browser.open(page, width=390, height=800)
    too_wide = "[...document.querySelectorAll('.chart svg')].filter(s => s.getBoundingClientRect().right > 391).length"

    assert phone.run(too_wide) == 0
    assert phone.run("document.documentElement.scrollWidth") <= 390
    phone.close()


def test_names_that_are_scripts_stay_text(browser, tmp_path):
    lab = moved_pages.take_in(tmp_path, coffees=HOSTILE, prefix=HOSTILE[1])
    hostile = browser.open(write_effects(moved_pages.moved(lab), tmp_path / "out"))

    assert hostile.run("window.owned") is None
    assert hostile.complaints == []
    hostile.close()
