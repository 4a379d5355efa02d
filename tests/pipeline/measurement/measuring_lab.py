"""An invented lab with instruments that say what they are worth, one that does not, and every kind of awkward brew."""

from __future__ import annotations

import csv
from datetime import UTC, datetime, timedelta
from pathlib import Path

INSTRUMENTS = """\
instrument_id,kind,resolution,standard_uncertainty,unit
r1,refractometer,0.01,0.02,%
r2,refractometer,0.01,0.02,%
silent,refractometer,,,%
s1,scale,0.1,0.05,g
balance,scale,0.0001,0.0001,g
"""
BREWS = """\
brew_id,recipe_id,brewed_at,coffee_id,method,scale_id,dose_g,water_g,beverage_g,spent_wet_g,void_reason
p1,house,2026-05-01T08:00,ostrin,pour_over,s1,18,320,288,47.5,
p2,house,2026-05-01T08:10,ostrin,pour_over,s1,18,320,288,48.5,
p3,house,2026-05-01T08:20,ostrin,pour_over,s1,18,320,288,48.0,
p4,house,2026-05-01T08:30,ostrin,pour_over,s1,18,320,288,48.0,
once,,2026-05-01T08:40,ostrin,pour_over,s1,18,320,288,,
milky,,2026-05-01T08:50,ostrin,espresso,s1,18,,38,,
sugary,,2026-05-01T09:00,ostrin,espresso,s1,18,,38,,
unread,,2026-05-01T09:10,ostrin,espresso,s1,18,,38,,
quiet,,2026-05-01T09:30,ostrin,moka,s1,18,300,60,,
steep,,2026-05-01T09:40,ostrin,immersion,s1,15,225,190,,
spilled,,2026-05-01T09:50,ostrin,pour_over,s1,18,320,288,,spilled
a1,,2026-05-02T08:00,ostrin,batch_brew,s1,60,1000,880,,
a2,,2026-05-02T08:10,ostrin,batch_brew,s1,60,1000,880,,
a3,,2026-05-02T08:20,ostrin,batch_brew,s1,60,1000,880,,
a4,,2026-05-02T08:30,ostrin,batch_brew,s1,60,1000,880,,
a5,,2026-05-02T08:40,ostrin,batch_brew,s1,60,1000,880,,
a6,,2026-05-02T08:50,ostrin,batch_brew,s1,60,1000,880,,
"""
BOTH = {"a1": 1.02, "a2": 1.11, "a3": 1.22, "a4": 1.30, "a5": 1.42, "a6": 1.50}
"""What r1 reads of the brews that both instruments read; r2 reads 0.03 more, one step up or down in turn."""


def readings() -> str:
    """Two readings a brew, 0.02 apart, where nothing else is said."""
    rows = ["brew_id,instrument_id,sample_no,reading_no,tds_pct,reading_scale,served_as"]

    def twice(brew: str, tds: float, instrument: str = "r1", scale: str = "tds", served: str = "black") -> None:
        rows.extend(f"{brew},{instrument},1,{k + 1},{tds + (0.01, -0.01)[k]:.3f},{scale},{served}" for k in range(2))

    for brew, tds in (("p1", 1.25), ("p2", 1.30), ("p3", 1.27), ("p4", 1.26), ("steep", 1.40)):
        twice(brew, tds)
    rows.append("once,r1,1,1,1.25,tds,black")
    twice("milky", 6.0, served="milk")
    twice("sugary", 11.0, scale="brix")
    twice("quiet", 4.0, instrument="silent")
    twice("spilled", 1.00)
    for k, (brew, tds) in enumerate(BOTH.items()):
        twice(brew, tds)
        twice(brew, tds + 0.03 + (0.01, -0.01)[k % 2], instrument="r2")
    return "\n".join(rows) + "\n"


def checks() -> str:
    """Nine weekly checks of r1, the sixth of them with the zero 0.05 off; six of r2 against two bottles, 0.04 high."""
    rows = ["instrument_id,checked_at,check_kind,reference_value,observed_value"]
    for week in range(9):
        day = f"{datetime(2026, 3, 2, 8) + timedelta(weeks=week):%Y-%m-%dT%H:%M}"
        rows.append(f"r1,{day},water_zero,0,{0.05 if week == 5 else 0.0}")
        rows.append(f"r1,{day},reference,1.30,{1.30 + (0.0, 0.01, -0.01)[week % 3]:.2f}")
        if week < 6:
            due = (1.30, 9.80)[week % 2]
            rows.append(f"r2,{day},reference,{due},{due + (0.04, 0.04, 0.05, 0.03, 0.03, 0.05)[week]:.2f}")
    return "\n".join(rows) + "\n"


def dryings() -> str:
    """Two dishes of each of a1 to a4, dried to constant mass: what r1 reads is 0.01 high."""
    rows = ["brew_id,drying_id,replicate,weighing_no,scale_id,dish_g,dish_plus_sample_g,dish_plus_dry_g,dried_at"]
    for brew in ("a1", "a2", "a3", "a4"):
        for dish in (1, 2):
            left = 10 * (BOTH[brew] - 0.01) / 100 + (0.0002 if dish == 1 else -0.0002)
            for weighing in (1, 2):
                rows.append(
                    f"{brew},run-1,{dish},{weighing},balance,30.0000,40.0000,{30 + left + 0.0001 * (2 - weighing):.4f},"
                    f"2026-05-03T1{weighing}:00"
                )
    return "\n".join(rows) + "\n"


LAB_TOML = """
[checks]
zero_tolerance = 0.02
reference_tolerance = 0.06
reference_u = 0.01

[drying]
volatile_loss_u_pct = 0.5
"""
AIAG = Path(__file__).parents[2] / "reference" / "gauge" / "aiag.csv"
RAISED = 3.0
"""Added to the published data, which go below zero as no strength does: variances are as they were."""


def gauge_study() -> dict[str, str]:
    """The published study of the reference folder as a lab would log it, with one more reading that nobody signed."""
    brews = ["brew_id,study_id,brewed_at,coffee_id,method,dose_g,beverage_g"]
    readings = ["brew_id,instrument_id,sample_no,reading_no,read_by,tds_pct"]
    with AIAG.open(encoding="utf-8") as file:
        for part, row in enumerate(csv.reader(file), start=1):
            brews.append(f"g{part:02},gauge-may,2026-05-04T08:{part:02},ostrin,espresso,18,36")
            for place, text in enumerate(row):
                reader, trial = "ABC"[place // 3], place % 3 + 1
                readings.append(f"g{part:02},r2,{trial},{place + 1},{reader},{float(text) + RAISED:.2f}")
    readings.append("g01,r2,9,99,,3.00")
    return {"gauge-brews.csv": "\n".join(brews) + "\n", "gauge-readings.csv": "\n".join(readings) + "\n"}


def files() -> dict[str, str]:
    """File name -> text of everything but the gauge study."""
    return {
        "instruments.csv": INSTRUMENTS,
        "brews.csv": BREWS,
        "readings.csv": readings(),
        "calibrations.csv": checks(),
        "dryings.csv": dryings(),
    }


def make_lab(folder: Path, drop: Path, texts: dict[str, str], settings: str = LAB_TOML) -> Path:
    """A project folder that took in these files."""
    from pipeline.ingest.run import ingest
    from pipeline.lab import new_lab

    new_lab(folder)
    (folder / "lab.toml").write_text(settings, encoding="utf-8")
    paths = []
    for name, text in texts.items():
        paths.append(drop / name)
        paths[-1].write_text(text, encoding="utf-8")
    report = ingest(paths, folder, now=datetime(2026, 6, 1, tzinfo=UTC))
    assert [entry.refused for entry in report.entries if entry.refused] == []
    assert sum(entry.set_aside for entry in report.entries) == 0, report.to_json()
    return folder
