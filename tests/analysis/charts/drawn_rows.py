"""The rows that a chart's layers draw, by the layer's name."""

from __future__ import annotations

from typing import Any


def drawn_rows(chart: Any) -> dict[str, list[dict[str, Any]]]:
    """Rows by layer; the specification is checked against Vega-Lite's schema on the way."""
    spec = chart.to_dict()
    return {layer["name"]: spec["datasets"][layer["data"]["name"]] for layer in spec["layer"] if "name" in layer}


def description(chart: Any) -> str:
    """What the chart says to those who do not see it."""
    text: str = chart.to_dict()["description"]
    return text
