"""How much a file may hold before reading it is refused, and the error that carries the refusal."""

from __future__ import annotations

BLOCK_BYTES = 16 * 2**20
"""Text is read in blocks of this size; a quoted cell cannot be longer."""
BATCH_ROWS = 200_000
MAX_COLUMNS = 1_000
MAX_RAGGED = 100_000
MAX_WORKBOOK_BYTES = 2**30
MAX_SHEET_TEXT = 2**28
"""Characters of one sheet, or of the shared texts of a workbook, held in memory at once."""
_FREE_BYTES = 64 * 2**20
_MAX_RATIO = 200


class UnreadableError(Exception):
    """Why a file or a sheet cannot be read, as one plain sentence; caught in `open_source`."""


def is_bomb(*, packed: int, unpacked: int) -> bool:
    """True when so few packed bytes grow so much that no honest table would.

    Measured logs pack 3 to 20 times, very repetitive ones up to 100 times; deflate itself stops at 1032.
    """
    return unpacked > _FREE_BYTES and unpacked > _MAX_RATIO * max(packed, 1)
