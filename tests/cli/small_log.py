"""A small log of ten brews, one of them with a dose that is no number."""

from __future__ import annotations

LOG = """\
brew_id,brewed_at,coffee_id,method,grinder_id,grind_setting,dose_g,water_g,beverage_g,water_temp_c,tds_pct
b-01,2026-05-01T08:00,ostrin,pour_over,bench,22,15,250,221,93,1.38
b-02,2026-05-01T08:10,ostrin,pour_over,bench,20,15,250,219,93,1.44
b-03,2026-05-01T08:20,ostrin,pour_over,bench,24,15,250,223,93,1.31
b-04,2026-05-01T08:30,ostrin,pour_over,bench,22,15,250,222,90,1.35
b-05,2026-05-01T08:40,ostrin,pour_over,bench,20,15,250,220,90,1.41
b-06,2026-05-01T08:50,ostrin,pour_over,bench,24,15,250,222,96,1.34
b-07,2026-05-01T09:00,ostrin,pour_over,bench,22,15,250,221,96,1.42
b-08,2026-05-01T09:10,ostrin,pour_over,bench,20,15,250,219,96,1.47
b-09,2026-05-01T09:20,=cmd,pour_over,bench,24,15,250,223,90,1.28
b-10,2026-05-01T09:30,ostrin,pour_over,bench,22,=15,250,221,93,1.37
"""
NOW = ["--now", "2026-05-02"]
