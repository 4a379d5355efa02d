"""The page on paper: summary tables open, tables of every brew left on the screen, charts drawn for the sheet."""

from __future__ import annotations

import re

import made_up_lab
import pages
import pytest

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    return pages.write(tmp_path_factory.mktemp("page"), made_up_lab.made_up_facts())


def test_print_unfolds_summary_tables_and_is_black_on_white(open_tab, page):
    tab = open_tab(page, dark=True)
    assert tab.run("document.querySelector('main details table').checkVisibility()") is False
    assert tab.pdf().startswith(b"%PDF")
    tab.call("Emulation.setEmulatedMedia", media="print", features=[{"name": "prefers-color-scheme", "value": "dark"}])
    tab.run("window.dispatchEvent(new Event('beforeprint'))")

    # Tables with a row for every brew stay on the screen (forty sheets of them are too many); a line says so instead.
    hidden = "[...document.querySelectorAll('main table')].filter(table => !table.checkVisibility())"
    assert tab.run(f"{hidden}.filter(table => !table.closest('.screen')).length") == 0
    assert tab.run(f"{hidden}.map(table => table.caption.textContent)[0]") == "Strength and yield"
    assert tab.run(
        "[...document.querySelectorAll('.paper')].every(note => note.checkVisibility() || note.closest('.screen'))"
    )
    assert tab.run("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert (
        tab.run("getComputedStyle(document.querySelector('#strength-0 .role-axis-label text')).fill") == "rgb(0, 0, 0)"
    )
    assert tab.run("getComputedStyle(document.getElementById('bar')).display") == "none"


def test_print_draws_the_charts_for_the_sheet_and_the_screen_gets_its_own_back(open_tab, page):
    tab = open_tab(page)
    width = "document.querySelector('#{}').querySelector('svg').getBBox().width"
    before = [tab.run(width.format(chart)) for chart in ("strength-0", "days")]
    tab.run("window.dispatchEvent(new Event('beforeprint'))")
    printed = [tab.run(width.format(chart)) for chart in ("strength-0", "days")]
    tab.run("window.dispatchEvent(new Event('afterprint'))")
    tab.settle()

    # A4 less margins of 14 mm is 688 CSS px: a chart takes half of it, the days all of it.
    assert printed[0] < 344 < printed[1] < 688 + 12
    assert [tab.run(width.format(chart)) for chart in ("strength-0", "days")] == pytest.approx(before, abs=2)


def test_the_demo_sized_page_prints_on_a_stack_that_people_carry(open_tab, page):
    # Each sheet is an object of type Page in the PDF; the tables of every brew alone made over twenty of them.
    sheets = len(re.findall(rb"/Type\s*/Page\b", open_tab(page).pdf()))

    assert 8 <= sheets <= 20
