"""Ids that rows name: stubs for kit and coffees, a queue for brews that have not come yet."""

from __future__ import annotations

from pipeline.facts import brew_flags
from pipeline.lab import load_settings
from pipeline.store.store import Store

BREWS = "brew_id,brewed_at,coffee_id,grinder_id,method,dose_g,beverage_g\n"
B1 = "b-1,2026-04-03T09:15:00Z,Sunrise-7,mill,espresso,18,36\n"


def test_an_unseen_coffee_and_grinder_become_stubs_that_say_what_they_lack(lab):
    report = lab.take("brews.csv", BREWS + B1)

    assert [(stub.table, stub.id) for stub in report.stubs] == [("coffees", "Sunrise-7"), ("grinders", "mill")]
    assert report.stubs[1].lacks == ("finer_is",)
    assert lab.current("coffees")["coffee_id"].to_list() == ["Sunrise-7"]


def test_filling_in_a_stub_counts_as_taken_in_not_as_revised(lab):
    lab.take("brews.csv", BREWS + B1)
    entry = lab.take("grinders.csv", "grinder_id,finer_is\nmill,lower\n").entries[0]

    assert (entry.taken_in, entry.revised) == (1, 0)
    assert lab.current("grinders")["finer_is"].to_list() == ["lower"]


def test_a_near_miss_of_a_known_id_names_the_likely_one(lab):
    lab.take("coffees.csv", "coffee_id,name\nsunrise-7,Sunrise\n")
    report = lab.take("brews.csv", BREWS + B1)

    assert next(stub for stub in report.stubs if stub.table == "coffees").resembles == "sunrise-7"


def test_parents_come_before_children_whatever_their_order(lab):
    readings = lab.put("a-readings.csv", "brew_id,reading_no,tds_pct\nb-1,1,9.5\n")
    brews = lab.put("z-brews.csv", BREWS + B1)

    report = lab.ingest(readings, brews)

    assert [entry.taken_in for entry in report.entries] == [1, 1]
    assert [entry.table for entry in report.entries] == ["readings", "brews"]


def test_a_lab_may_ask_for_unknown_parents_to_be_set_aside(lab):
    toml = lab.dir / "lab.toml"
    toml.write_text('[intake]\nunknown_parents = "set_aside"\n')
    report = lab.take("brews.csv", BREWS + B1)

    assert (report.entries[0].set_aside, report.stubs) == (1, ())
    assert lab.list("set_aside")["column"].to_list() == ["coffee_id", "grinder_id"]


def test_a_reading_of_an_unknown_brew_waits_and_goes_in_when_the_brew_comes(lab):
    first = lab.take("readings.csv", "brew_id,reading_no,tds_pct\nb-1,1,9.5\nb-9,1,9.5\n")
    assert first.entries[0].set_aside == 2

    second = lab.take("brews.csv", BREWS + B1)

    assert [(row.source_file, row.sheet, row.line, row.outcome) for row in second.retried] == [
        ("readings.csv", "", 2, "taken in")
    ]
    assert lab.current("readings")["brew_id"].to_list() == ["b-1"]
    assert lab.list("set_aside").select("line", "rule").rows() == [(3, "unknown_id")]
    assert second.entries[0].taken_in == 1


def test_a_waiting_reading_that_proves_impossible_stays_set_aside_under_that_rule(lab):
    lab.take("readings.csv", "brew_id,reading_no,tds_pct\nb-1,1,25\n")
    report = lab.take("brews.csv", BREWS + B1)

    assert [row.outcome for row in report.retried] == ["set aside: yield_too_high"]
    assert lab.list("set_aside")["rule"].to_list() == ["yield_too_high"]


def test_a_near_miss_is_flagged_until_the_ids_are_settled(lab):
    lab.take("coffees.csv", "coffee_id,name\nsunrise-7,Sunrise\n")
    lab.take("brews.csv", BREWS + B1 + B1.replace("b-1", "b-2"))

    flags = brew_flags(Store(lab.dir), Store(lab.dir).head(), load_settings(lab.dir))
    near = flags.filter(flags["rule"] == "near_miss")
    assert near.select("brew_id", "line", "column", "value").rows() == [("b-1", 2, "coffee_id", "Sunrise-7")]
    assert near["message"][0] == "coffee_id Sunrise-7 is new here and close to sunrise-7. 2 brews name it."


def test_a_slip_in_a_first_log_resembles_the_id_that_more_rows_name(lab):
    slip = B1.replace("b-1", "b-3").replace("Sunrise-7", "Sunrse-7")
    report = lab.take("brews.csv", BREWS + B1 + B1.replace("b-1", "b-2") + slip)

    assert [(stub.id, stub.resembles) for stub in report.stubs if stub.table == "coffees"] == [
        ("Sunrise-7", ""),
        ("Sunrse-7", "Sunrise-7"),
    ]
