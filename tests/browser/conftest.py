from __future__ import annotations

import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent / "analysis" / "charts")]


@pytest.fixture(scope="session")
def browser(tmp_path_factory):
    from chromium import Browser

    running = Browser(tmp_path_factory.mktemp("chromium"))
    yield running
    running.close()


@pytest.fixture
def open_tab(browser):
    """Opens pages in tabs that are closed when the test is over."""
    tabs = []

    def opened(page, **look):
        tabs.append(browser.open(page, **look))
        return tabs[-1]

    yield opened
    for tab in tabs:
        tab.close()
