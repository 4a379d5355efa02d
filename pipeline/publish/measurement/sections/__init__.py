"""Sections of the page that answers how good the numbers are, in reading order."""
