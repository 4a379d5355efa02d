from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from pipeline.store.model import DataFile
from pipeline.store.parquet import ROW_GROUP_ROWS, scan_parquet, write_parquet
from schemas.problem import ProblemError

WRITE_IN_A_CHILD = """
import sys
from pathlib import Path
import polars as pl
from pipeline.store.parquet import write_parquet
write_parquet(pl.scan_parquet(sys.argv[1], glob=False), Path(sys.argv[2]))
"""


@pytest.fixture
def frame() -> pl.DataFrame:
    """Two and a half row groups of text, numbers with gaps, whole numbers, yes/no and times."""
    rows = ROW_GROUP_ROWS * 5 // 2
    rng = np.random.default_rng(20260401)
    values = rng.normal(18, 1, rows)
    return pl.DataFrame(
        {
            "brew_id": [f"b{number:06d}" for number in range(rows)],
            "dose_g": values,
            "run_order": rng.integers(0, 50, rows),
            "discarded": rng.random(rows) < 0.5,
            "brewed_at": pl.Series(range(rows), dtype=pl.Int64).cast(pl.Datetime("us", "UTC")),
        }
    ).with_columns(dose_g=pl.when(pl.col("run_order") > 10).then("dose_g"))


def test_a_data_file_is_named_by_the_hash_of_its_bytes_and_reads_back_equal(store, frame):
    file = store.write_data(frame)
    path = store.data_path(file)

    assert file.rows == frame.height
    assert file.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert path.name == f"{file.sha256[:16]}.parquet"
    assert pl.read_parquet(path.read_bytes()).equals(frame)


def test_the_same_rows_give_the_same_file_however_they_are_held(store, frame):
    pieces = pl.concat([frame[start : start + 7777] for start in range(0, frame.height, 7777)], rechunk=False)
    assert pieces.n_chunks() > 30

    files = {store.write_data(held) for held in (frame, pieces, frame.lazy(), pieces.lazy())}

    assert len(files) == 1
    assert len(list(store.data_dir.iterdir())) == 1


def test_the_bytes_do_not_depend_on_the_number_of_threads(tmp_path, frame):
    here, child = tmp_path / "here.parquet", tmp_path / "child.parquet"
    write_parquet(frame, here)
    environment = {**os.environ, "POLARS_MAX_THREADS": "1"}
    subprocess.run([sys.executable, "-c", WRITE_IN_A_CHILD, here, child], check=True, env=environment)

    assert child.read_bytes() == here.read_bytes()


def test_the_same_frame_is_written_once(store):
    frame = pl.DataFrame({"brew_id": ["a"]})
    first = store.data_path(store.write_data(frame)).stat()

    second = store.data_path(store.write_data(frame)).stat()

    assert (first.st_ino, first.st_mtime_ns) == (second.st_ino, second.st_mtime_ns)


def test_writing_a_frame_again_mends_its_damaged_file(store):
    frame = pl.DataFrame({"brew_id": ["a"]})
    path = store.data_path(store.write_data(frame))
    right = path.read_bytes()
    path.write_bytes(right[:-1] + b"?")

    store.write_data(frame)

    assert path.read_bytes() == right


def test_frames_that_differ_in_order_or_in_one_null_are_different_files(store):
    frames = [
        pl.DataFrame({"brew_id": ["a", "b"]}),
        pl.DataFrame({"brew_id": ["b", "a"]}),
        pl.DataFrame({"brew_id": ["a", None]}),
        pl.DataFrame({"brew_id": ["a", ""]}),
    ]

    assert len({store.write_data(frame).sha256 for frame in frames}) == len(frames)


def test_an_empty_frame_keeps_its_types(store):
    file = store.write_data(pl.DataFrame(schema={"brewed_at": pl.Datetime("us", "UTC"), "dose_g": pl.Float64}))

    assert file.rows == 0
    assert scan_parquet([store.data_path(file)]).collect().schema["brewed_at"] == pl.Datetime("us", "UTC")


def test_a_column_that_an_older_file_lacks_is_null_there_and_one_it_has_more_is_left_out(tmp_path):
    old, new = tmp_path / "old.parquet", tmp_path / "new.parquet"
    write_parquet(pl.DataFrame({"brew_id": ["a"], "gone": [1]}), old)
    write_parquet(pl.DataFrame({"brew_id": ["b"], "brewed_at": [datetime(2026, 4, 1, tzinfo=UTC)]}), new)
    schema = {"brew_id": pl.String(), "brewed_at": pl.Datetime("us", "UTC")}

    rows = scan_parquet([old, new], schema).collect()

    assert rows.rows() == [("a", None), ("b", datetime(2026, 4, 1, tzinfo=UTC))]


def test_an_error_of_the_query_itself_is_not_taken_for_a_full_disk(tmp_path):
    broken = pl.LazyFrame({"text": ["x"]}).select(pl.col("text").cast(pl.Int64))

    with pytest.raises(pl.exceptions.InvalidOperationError):
        write_parquet(broken, tmp_path / "out.parquet")


def test_a_missing_file_is_named(store):
    with pytest.raises(ProblemError, match=r"0{16}\.parquet is needed and cannot be read.*brewtrials verify"):
        store.checked_path(DataFile(sha256="0" * 64, rows=1))


def test_a_changed_file_is_named_when_it_is_first_read(store):
    file = store.write_data(pl.DataFrame({"brew_id": ["a"]}))
    path: Path = store.data_path(file)
    raw = bytearray(path.read_bytes())
    raw[len(raw) // 2] ^= 1
    path.write_bytes(raw)

    later = type(store)(store.lab_dir)

    with pytest.raises(ProblemError, match=rf"{path.name} is damaged.*brewtrials verify.*backup"):
        later.checked_path(file)
