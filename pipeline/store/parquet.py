"""Frames to and from Parquet: equal frames give equal bytes, and only unchanged bytes are read."""

from __future__ import annotations

import os
import re
from pathlib import Path

import polars as pl

ROW_GROUP_ROWS = 100_000


def write_parquet(frame: pl.DataFrame | pl.LazyFrame, path: Path) -> int:
    """Write a frame in its row order, a lazy one streaming; returns the number of rows. Raises OSError.

    Every setting that shapes the bytes is fixed here. Measured: the bytes depend neither on how the frame is
    chunked nor on the number of threads, and are the same for a DataFrame and a LazyFrame.
    """
    try:
        frame.lazy().sink_parquet(
            path,
            compression="zstd",
            compression_level=3,
            statistics=True,
            row_group_size=ROW_GROUP_ROWS,
            maintain_order=True,
        )
    except pl.exceptions.ComputeError as error:
        # A full disk comes out of polars as a failed computation that only names the number in words.
        found = re.search(r"IO error: .*\(os error (\d+)\)", str(error))
        if not found:
            raise
        raise OSError(int(found[1]), os.strerror(int(found[1])), str(path)) from error
    if isinstance(frame, pl.DataFrame):
        return frame.height
    return int(scan_parquet([path]).select(pl.len()).collect().item())


def scan_parquet(paths: list[Path], schema: dict[str, pl.DataType] | None = None) -> pl.LazyFrame:
    """The rows of these files one after the other, as `schema` if given.

    A column that a file lacks (the contract has grown since) is null there. Names are taken as they stand:
    brackets or an equals sign in a project folder's name mean nothing.
    """
    if schema is None:
        return pl.scan_parquet(paths, glob=False, hive_partitioning=False)
    return pl.scan_parquet(
        paths,
        glob=False,
        hive_partitioning=False,
        schema=schema,
        missing_columns="insert",
        extra_columns="ignore",
    )
