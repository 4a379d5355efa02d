"""However a file is damaged, opening it never raises, and rows read = batch rows + blank + ragged."""

from __future__ import annotations

import io
import random
import zipfile
from pathlib import Path

import openpyxl
import pytest

from pipeline.sources.open import open_source

LOG = b'id;dose;tds\n1;18,0;"1,3\n5"\n2;"x";3\n;;\n4;5\n' * 20


def workbook_parts() -> dict[str, bytes]:
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    assert sheet is not None
    for number in range(20):
        sheet.append([f"id{number}", "x", number, 1.5, True])
    whole = io.BytesIO()
    workbook.save(whole)
    with zipfile.ZipFile(whole) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(parts: dict[str, bytes]) -> bytes:
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return whole.getvalue()


def damaged(content: bytes, chance: random.Random) -> bytes:
    changed = bytearray(content)
    for _ in range(chance.choice([1, 2, 5, 30])):
        at = chance.randrange(len(changed))
        kind = chance.randrange(3)
        if kind == 0:
            changed[at] = chance.randrange(256)
        elif kind == 1:
            del changed[at : at + chance.randrange(1, 9)]
        else:
            changed[at:at] = chance.choice([b'"', b"\n", b"\r", b";", b"\0", b"\xff", b"<c>", b"99"])
    return bytes(changed)


@pytest.mark.parametrize("seed", range(4))
def test_damage_never_raises(tmp_path: Path, seed: int) -> None:
    chance = random.Random(seed)
    parts = workbook_parts()
    path = tmp_path / "handed-in"
    for _ in range(60):
        name = chance.choice(sorted(parts))
        path.write_bytes(
            chance.choice(
                [
                    damaged(LOG, chance),
                    damaged(LOG.decode().encode("utf-16"), chance),
                    damaged(packed(parts), chance),
                    packed({**parts, name: damaged(parts[name], chance)}),
                ]
            )
        )

        source = open_source(path)

        assert bool(source.refused) != bool(source.sheets)
        for sheet in source.sheets:
            good = sum(frame.height for frame in sheet.batches())
            assert sheet.rows_read == good + sheet.blank + len(sheet.ragged)
