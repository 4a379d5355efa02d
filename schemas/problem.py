"""The one error a user is meant to read."""

from __future__ import annotations


class ProblemError(Exception):
    """Something the user can mend: the message says what, where, how many, and what next."""
