"""Run sheets: a plan as a workbook to fill in and ingest, as a page to print, and compared with what was brewed."""
