"""Rows that wait for an id: nothing of them is lost, and coming late they are held to the same rules."""

from __future__ import annotations

import polars as pl

BREWS = "brew_id,brewed_at,coffee_id,method,dose_g,beverage_g\n"
READINGS = "brew_id,reading_no,tds_pct\n"


def brew(brew_id: str) -> str:
    return f"{brew_id},2026-04-03T09:15:00Z,sunrise,espresso,18,36\n"


def outcomes(report) -> list[tuple[str, int, str]]:
    return [(row.source_file, row.line, row.outcome) for row in report.retried]


def test_two_files_of_one_name_wait_side_by_side(lab):
    lab.take("readings.csv", READINGS + "b-1,1,9\n")
    lab.take("readings.csv", READINGS + "b-2,1,9.5\n")
    first = lab.take("brews.csv", BREWS + brew("b-1"))
    assert lab.list("set_aside")["value"].to_list() == ["b-2"]
    second = lab.take("more brews.csv", BREWS + brew("b-2"))

    assert outcomes(first) == outcomes(second) == [("readings.csv", 2, "taken in")]
    assert lab.current("readings").sort("brew_id").select("brew_id", "tds_pct").rows() == [("b-1", 9.0), ("b-2", 9.5)]


def test_waiting_rows_of_one_key_that_differ_clash_when_their_brew_comes(lab):
    lab.take("readings.csv", READINGS + "b-1,1,9\nb-1,1,9.5\nb-1,2,9\nb-1,2,9\n")
    report = lab.take("brews.csv", BREWS + brew("b-1"))

    assert [row.outcome for row in report.retried] == [
        *["set aside: key_clash"] * 2,
        *["taken in", "already known"],
    ]
    assert lab.list("set_aside").select("line", "rule").rows() == [(2, "key_clash"), (3, "key_clash")]
    assert lab.current("readings").select("reading_no", "tds_pct").rows() == [(2, 9.0)]


def test_the_newest_of_the_waiting_stands_in_order_of_arrival_not_of_names(lab):
    lab.take("z readings.csv", READINGS + "b-1,1,9\n")
    lab.take("a readings.csv", READINGS + "b-1,1,9.5\n")
    report = lab.take("brews.csv", BREWS + brew("b-1"))

    assert outcomes(report) == [("z readings.csv", 2, "taken in"), ("a readings.csv", 2, "revised")]
    assert lab.current("readings")["tds_pct"].to_list() == [9.5]


def test_a_waiting_brew_brings_its_own_readings(lab):
    (lab.dir / "lab.toml").write_text('[intake]\nunknown_parents = "set_aside"\n')
    lab.take(
        "log.csv",
        "Date,Barista,Coffee,Method,Dose (g),Out (g),TDS 1,TDS 2\n2026-04-03 09:15,Ana,dusk,espresso,18,36,9,9.2\n",
    )
    assert lab.list("set_aside")["rule"].to_list() == ["unknown_id"]
    report = lab.take("coffees.csv", "coffee_id,name\ndusk,Dusk\n")

    assert outcomes(report) == [("log.csv", 2, "taken in")]
    assert lab.current("brews")["brew_id"].to_list() == ["2026-04-03T09:15 Ana"]
    assert lab.current("readings").select("brew_id", "reading_no", "tds_pct").rows() == [
        ("2026-04-03T09:15 Ana", 1, 9.0),
        ("2026-04-03T09:15 Ana", 2, 9.2),
    ]


def test_a_whole_chain_goes_in_at_once_when_its_first_id_comes(lab):
    (lab.dir / "lab.toml").write_text('[intake]\nunknown_parents = "set_aside"\n')
    lab.ingest(lab.put("brews.csv", BREWS + brew("b-1")), lab.put("readings.csv", READINGS + "b-1,1,9\n"))
    report = lab.take("coffees.csv", "coffee_id,name\nsunrise,Sunrise\n")

    assert outcomes(report) == [("brews.csv", 2, "taken in"), ("readings.csv", 2, "taken in")]
    assert lab.list("set_aside").height == 0


def test_a_row_that_names_two_unknown_ids_waits_for_both(lab):
    lab.take("choices.csv", "test_id,kind,assessor,brew_id_a,brew_id_b,correct\nt-1,triangle,Bo,b-1,b-2,yes\n")
    first = lab.take("brews.csv", BREWS + brew("b-1"))
    assert first.retried == ()
    assert lab.list("set_aside").height == 2
    second = lab.take("more brews.csv", BREWS + brew("b-2"))

    assert outcomes(second) == [("choices.csv", 2, "taken in")]
    assert lab.list("set_aside").height == 0


def test_moments_wait_too_though_their_key_holds_a_number(lab):
    lab.take("traces.csv", "brew_id,t_s,flow_g_s\nb-1,0.5,1\nb-1,1.5,1.25\n")
    lab.take("brews.csv", BREWS + brew("b-1"))

    assert lab.current("traces").sort("t_s").select("t_s", "flow_g_s").rows() == [(0.5, 1.0), (1.5, 1.25)]
    assert lab.list("set_aside").height == 0


def test_reading_a_waiting_file_again_is_idle(lab):
    path = lab.put("readings.csv", READINGS + "b-1,1,9\n")
    lab.ingest(path)
    report = lab.ingest(path)

    assert not report.committed
    assert report.retried == ()
    assert report.entries[0].set_aside == 1
    assert lab.list("set_aside").filter(pl.col("rule") == "unknown_id").height == 1
