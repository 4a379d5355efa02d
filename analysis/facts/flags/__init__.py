"""Soft rules: rows that are kept and worth a look."""
