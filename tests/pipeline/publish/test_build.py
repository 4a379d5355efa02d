"""From a lab's own one-sheet log to its page."""

from __future__ import annotations

import pytest

from pipeline.publish.build import build_dashboard
from schemas.problem import ProblemError

HEADER = "Date,Coffee,Method,Dose (g),Water (g),Beverage (g),TDS (%)\n"
# Common practice, no source: 40 g of beverage at 10 % from a 20 g dose is a yield of 20 %.
SHOTS = "".join(f"2026-04-0{day},Quiet Hill,espresso,20,60,40,10\n" for day in range(1, 4))


def index_of(lab, out, **options):
    return build_dashboard(lab.dir, out, **options)[0].read_text(encoding="utf-8")


def test_a_log_becomes_a_page_and_an_earlier_commit_can_be_shown_again(lab, tmp_path):
    lab.take("brews.csv", HEADER + SHOTS)
    first = index_of(lab, tmp_path / "first")
    lab.take("more brews.csv", HEADER + "2026-04-09,Quiet Hill,espresso,twenty,60,40,10\n")
    second = index_of(lab, tmp_path / "second")

    assert "Brewed 1 to 3 April 2026." in first
    assert ">20.0<" in first
    assert "every row that was handed in is in" in first
    assert "1 row is set aside" in second
    assert index_of(lab, tmp_path / "again", as_of=1) == first


def test_it_tells_every_page_that_it_wrote(lab, tmp_path):
    lab.take("brews.csv", HEADER + SHOTS)
    out = tmp_path / "pages"
    told = build_dashboard(lab.dir, out)

    assert told[0].name == "index.html"
    assert sorted(told) == sorted(out.iterdir())


def test_a_folder_that_is_no_project_is_refused_in_words(tmp_path):
    with pytest.raises(ProblemError):
        build_dashboard(tmp_path, tmp_path / "out")
