"""Writes self-contained pages."""
