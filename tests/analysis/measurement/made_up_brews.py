"""Brews for the tests of budgets, and the yield written out from the design's formulas, apart from the code."""

from dataclasses import replace

from analysis.measurement.measured import Mass, MeasuredBrew, ReadingGroup, Scale

SCALE = Scale("S1", standard_uncertainty_g=0.05, resolution_g=0.1)
GROUP = ReadingGroup(
    instrument="R1",
    n_readings=3,
    n_repeats=3,
    scatter_pct=0.02,
    scatter_df=40,
    standard_uncertainty_pct=0.02,
    resolution_pct=0.01,
    pool="R1 pour_over",
)


def filter_brew(*, tds_pct=1.25, dose_g=18.0, beverage_g=288.0, scale=SCALE, group=GROUP, **more):
    return MeasuredBrew("percolation", tds_pct, (group,), Mass(dose_g, scale), beverage=Mass(beverage_g, scale), **more)


def espresso(*, tds_pct=9.5, dose_g=18.0, beverage_g=38.0, scale=SCALE, group=GROUP, **more):
    espresso_group = replace(group, scatter_pct=0.06, scatter_df=25, pool="R1 espresso")
    return MeasuredBrew(
        "percolation", tds_pct, (espresso_group,), Mass(dose_g, scale), beverage=Mass(beverage_g, scale), **more
    )


def steeped(*, tds_pct=1.4, dose_g=15.0, water_g=225.0, scale=SCALE, group=GROUP, **more):
    return MeasuredBrew("immersion", tds_pct, (group,), Mass(dose_g, scale), water=Mass(water_g, scale), **more)


def yield_by_hand(*, balance, tds, dose, beverage, water, evaporated, bypass, included, after, moisture=0.0):
    """Percent of the dose less its moisture; works on floats and on uncertain numbers alike."""
    m = beverage - bypass if included else beverage
    t0 = tds / 100 * (m + bypass) / m if after else tds / 100
    dissolved = m * t0 if balance == "percolation" else (water - evaporated) * t0 / (1 - t0)
    return 100 * dissolved / (dose * (1 - moisture / 100))


def cup_by_hand(*, tds, beverage, bypass, included, after):
    m = beverage - bypass if included else beverage
    return tds if after else tds * m / (m + bypass)
