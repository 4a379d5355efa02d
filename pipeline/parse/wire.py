"""An Interpretation as JSON and back, so that a row can be read again exactly as its sheet was."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from pipeline.parse.model import ColumnReading, Combined, Interpretation

_TUPLES = ("header", "missing", "id_from", "unknown", "notes")


def to_json(how: Interpretation) -> dict[str, Any]:
    """Plain JSON values of an interpretation."""
    return asdict(how)


def from_json(data: dict[str, Any]) -> Interpretation:
    """The interpretation that `to_json` wrote down."""
    fields = dict(data)
    fields["columns"] = tuple(ColumnReading(**one) for one in data["columns"])
    fields["combined"] = tuple(Combined(**(one | {"positions": tuple(one["positions"])})) for one in data["combined"])
    fields.update({name: tuple(data[name]) for name in _TUPLES})
    return Interpretation(**fields)
