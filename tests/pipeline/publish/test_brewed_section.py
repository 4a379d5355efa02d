"""What was brewed: brews with a reading and no yield are told why."""

from __future__ import annotations

import re
from html import unescape

import measured_pages
import pytest

from pipeline.publish.build import build_dashboard

BREWS = """brew_id,brewed_at,method,coffee_id,dose_g,water_g,beverage_g,bypass_g,bypass_included,bypass_before_reading
e1,2026-03-02T08:00,espresso,quiet,18.0,60.0,36.0,,,
e2,2026-03-03T08:00,espresso,quiet,18.0,60.0,36.0,,,
i1,2026-03-04T08:00,immersion,quiet,15.0,225.0,,50.0,yes,yes
p1,2026-03-05T08:00,pour_over,quiet,15.0,200.0,170.0,50.0,,
"""
READINGS = """brew_id,sample_no,reading_no,tds_pct,served_as
e1,1,1,9.1,milk
e2,1,1,9.0,black
i1,1,1,1.3,black
p1,1,1,1.5,black
"""


@pytest.fixture(scope="module")
def said(tmp_path_factory):
    files = {"coffees.csv": "coffee_id,name\nquiet,Quiet Hill\n", "brews.csv": BREWS, "readings.csv": READINGS}
    folder = tmp_path_factory.mktemp("reasons")
    index, *_ = build_dashboard(measured_pages.take_in(folder, files), folder / "out")
    html = index.read_text(encoding="utf-8")
    section = html[html.index('id="brewed"') :]
    return [unescape(found) for found in re.findall(r"<li>(.*?)</li>", section[: section.index("</ul>")])]


@pytest.mark.parametrize(
    "line",
    [
        "1 brew has a reading but no yield: it was taken on a milk drink. Read the coffee before the milk goes in.",
        "1 brew has a reading but no yield: a weight is missing; the flags below say which.",
        "1 brew has a reading but no yield: an answer about bypass is missing; the flags below say which.",
    ],
)
def test_each_reason_has_its_own_line(said, line):
    assert line in said


def test_the_brew_that_has_a_yield_is_told_nothing_of_the_kind(said):
    assert sum("no yield" in line for line in said) == 3
