"""The kinds of number that one formula serves: a float, an array, a polars expression."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
import numpy.typing as npt
import polars as pl

Number = TypeVar("Number", float, npt.NDArray[np.float64], pl.Expr)
"""Formulas over `Number` use + - * / only, so that every kind of number gives the same answer."""
