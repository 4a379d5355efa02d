"""Which row is the header, and which separator cuts it."""

from __future__ import annotations

import pytest

from pipeline.sources.header import find_header
from pipeline.sources.separator import find_layout


@pytest.mark.parametrize(
    ("rows", "index"),
    [
        ([["a", "b"], ["1", "2"]], 0),
        ([["Spring log", "", "", ""], ["a", "b", "c", "d"], ["1", "2", "3", "4"]], 1),
        ([["site", "north", "", "", "", ""], ["a", "b", "c", "d", "e", "f"], ["1", "2", "3", "4", "5", "6"]], 1),
        ([["# by hand", "x"], ["a", "b"]], 1),
        ([["#", "Coffee", "Dose"], ["1", "Alma", "18"]], 0),
        ([["1", "2"], ["2026-04-03", "9:15"]], None),
        ([["only"], ["one"]], None),
        ([["", ""], []], None),
        ([], None),
    ],
)
def test_header_row(rows: list[list[str]], index: int | None) -> None:
    assert find_header(rows) == index


@pytest.mark.parametrize(
    ("text", "separator", "header"),
    [
        ("Coffee;Dose;TDS\nAlma;18,0;1,35\n", ";", ("Coffee", "Dose", "TDS")),
        ("Dose, g;TDS, %\n18,0;1,35\n17,9;1,30\n", ";", ("Dose, g", "TDS, %")),
        ("Log, spring 2026\nCoffee;Dose\nAlma;18,0\nBira;17,5\n", ";", ("Coffee", "Dose")),
        ("id,tags\n1,a;b\n2,c;d\n3,e;f\n", ",", ("id", "tags")),
        ("id\tnotes\n1\tsweet, clean; long\n", "\t", ("id", "notes")),
        ("id|dose\n1|18,0\n", "|", ("id", "dose")),
        ("a,b\n", ",", ("a", "b")),
    ],
)
def test_separator(text: str, separator: str, header: tuple[str, ...]) -> None:
    layout = find_layout(text.encode(), whole=True)

    assert (layout.shape.separator, layout.header) == (separator, header)
