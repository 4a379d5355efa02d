"""All that the page on measurement says, worked out from one commit."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import polars as pl

from analysis.charts.measurement.first_answer import OpenDoubt
from analysis.charts.measurement.gauge_rows import InstrumentGauge, NoGauge, gauge_studies
from analysis.charts.measurement.method_budgets import MethodBudget, NoBudget, method_budgets
from analysis.charts.measurement.reading_scatter import ReadingScatter, reading_scatters
from analysis.charts.measurement.smallest_rows import MethodSmallest, smallest_by_method
from analysis.charts.measurement.times_in_doubt import open_doubts
from analysis.measurement.agreement import Agreement, NotCompared
from analysis.measurement.closure import Closure, mass_closure
from analysis.measurement.closure_residuals import closure_rows
from analysis.measurement.drying import Drying
from analysis.measurement.instrument_record import InstrumentRecord
from pipeline.measurement.agreement_report import compared
from pipeline.measurement.gather import Gathered
from schemas.lab import LabSettings


@dataclass(frozen=True)
class MeasuredPage:
    """Everything the page is made from.

    `masses` are the brews that mass closure judged, with residual and retained water; `last_read` is the last reading
    on each instrument. `doubts` are all spans of doubt with what lies in them.
    """

    settings: LabSettings
    manifest_number: int
    brews: pl.DataFrame
    budgets: tuple[MethodBudget, ...]
    no_budgets: tuple[NoBudget, ...]
    smallest: tuple[MethodSmallest, ...]
    scatters: tuple[ReadingScatter, ...]
    records: tuple[InstrumentRecord, ...]
    doubts: tuple[OpenDoubt, ...]
    last_read: dict[str, datetime]
    pairs: tuple[Agreement | NotCompared, ...]
    gauges: tuple[InstrumentGauge | NoGauge, ...]
    drying: Drying
    closure: Closure
    masses: pl.DataFrame

    @property
    def refractometers(self) -> list[str]:
        """Names of the instruments that read strength here."""
        return sorted({one.instrument for one in self.scatters if one.instrument})


def measured_page(found: Gathered, *, manifest_number: int) -> MeasuredPage:
    """Work out everything once."""
    settings, brews = found.settings, found.brews
    budgets, without = method_budgets(brews, found.groups, settings)
    believed = brews.filter(~pl.col("brew_id").is_in(list(found.slips)))
    records = found.records()
    times = brews.select("brew_id", "study_id", "brewed_at", "brewed_at_is_date", "scale_id", "is_void")
    read = found.readings.join(times.drop("is_void", "scale_id"), on="brew_id", how="left", maintain_order="left")
    read = read.with_columns(at=pl.coalesce("read_at", "brewed_at"))
    last = read.filter(pl.col("instrument_id").is_not_null()).group_by("instrument_id").agg(pl.col("at").max())
    return MeasuredPage(
        settings=settings,
        manifest_number=manifest_number,
        brews=brews,
        budgets=budgets,
        no_budgets=without,
        smallest=smallest_by_method(budgets, believed, found.readings),
        scatters=reading_scatters(found.readings),
        records=records,
        doubts=open_doubts([span for record in records for span in record.doubts], read, times),
        last_read={name: at for name, at in last.iter_rows() if at is not None},
        pairs=compared(found),
        gauges=gauge_studies(read, found.instruments),
        drying=found.drying(),
        closure=mass_closure(brews, found.instruments, settings=settings),
        masses=closure_rows(brews, settings),
    )
