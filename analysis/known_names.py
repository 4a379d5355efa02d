"""A name that a person wrote, against the closed list it must come from."""

from __future__ import annotations

from collections.abc import Collection
from difflib import get_close_matches

from schemas.problem import ProblemError


def check_known(what: str, name: str, allowed: Collection[str]) -> None:
    """Raise ProblemError with the nearest name and the list where `name` is not in it."""
    if name in allowed:
        return
    near = get_close_matches(name, list(allowed), n=1)
    hint = f"; did you mean {near[0]}?" if near else "."
    raise ProblemError(f"{name!r} is not a {what} that can be used{hint} The list: {', '.join(allowed)}.")
