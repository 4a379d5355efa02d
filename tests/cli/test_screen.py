from __future__ import annotations

from datetime import datetime

import pytest

from pipeline.cli.screen import cells, harmless, rows_of, say
from pipeline.cli.tables import show_rows


@pytest.fixture(autouse=True)
def _eighty_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")


def test_markup_and_links_in_the_data_come_out_as_they_stand(capsys: pytest.CaptureFixture[str]) -> None:
    show_rows(("note",), [("[red]hot[/red] :coffee: [link=x]",)])

    assert capsys.readouterr().out.splitlines() == ["note", "[red]hot[/red] :coffee: [link=x]"]


def test_control_codes_in_the_data_do_not_reach_the_terminal(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FORCE_COLOR", "1")

    show_rows(("note",), [("a\x1b[2Jb\x07",)])
    say("title \x1b]0;pwned\x07")

    out = capsys.readouterr().out
    assert "\x1b" not in out
    assert "a?[2Jb?" in out


def test_c1_controls_are_harmless_too() -> None:
    assert harmless("\x9b31m\x7f") == "?31m?"
    assert harmless("two\nlines\tö") == "two\nlines\tö"


@pytest.mark.parametrize(
    ("name", "value", "shown"),
    [
        ("tds_pct", 1.3, "1.30"),
        ("beverage_ratio", 2.0, "2.00"),
        ("dose_g", 18.05, "18.05"),
        ("dose_g", 18.0, "18"),
        ("channeled", True, "yes"),
        ("channeled", None, ""),
        ("brew_id", "007", "007"),
        ("brewed_at", datetime(2026, 4, 3, 9, 15, 20), "2026-04-03 09:15"),
        ("grind_um_finer", 0.0237231, "0.023723"),
        ("flow_g_s", 1e-9, "1e-09"),
    ],
)
def test_values_read_as_people_write_them(name: str, value: object, shown: str) -> None:
    assert cells(name, [value]) == [shown]


@pytest.mark.parametrize(
    ("number", "table", "said"),
    [(1, "coffees", "1 coffee"), (1, "tastings", "1 tasting"), (1200, "brews", "1,200 brews"), (0, "lots", "0 lots")],
)
def test_rows_are_counted_by_the_name_of_their_table(number: int, table: str, said: str) -> None:
    assert rows_of(number, table) == said
