"""Charts as Altair objects; one idea per file."""
