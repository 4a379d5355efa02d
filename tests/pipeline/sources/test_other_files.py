"""Files that are no tables: each is named for what it is."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from pipeline.sources.open import open_source


def test_other_files_are_named_for_what_they_are(tmp_path: Path) -> None:
    ole = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600)
    cases = {
        "old.xls": (ole, "It is an old Excel file (.xls)."),
        "locked.xlsx": (ole + "EncryptedPackage".encode("utf-16-le"), "The workbook is protected with a password."),
        "page.pdf": (b"%PDF-1.7 ...", "It is a PDF, not a table."),
        "report.xls": (b"\xef\xbb\xbf <html><table>", "It is a web page or XML, whatever its name says."),
        "rows.csv": (b'[\n {"id": 1}]', "It is JSON, not a table."),
        "data.csv": (b"PAR1....", "It is a Parquet file."),
        "cut.xlsx": (b"PK\x03\x04" + bytes(100), "The workbook is damaged or cut short."),
    }
    for name, (content, reason) in cases.items():
        path = tmp_path / name
        path.write_bytes(content)
        assert open_source(path).refused.startswith(reason), name


@pytest.mark.parametrize(
    ("names", "reason"),
    [
        (["a.csv"], "It is a zip archive. Unpack it"),
        (["xl/workbook.bin"], "It is a binary workbook (.xlsb)."),
        (["mimetype"], "It is a spreadsheet in another format."),
        (["[Content_Types].xml", "word/document.xml"], "It is a document, not a spreadsheet."),
        (["xl/workbook.xml"], "The workbook is not built as .xlsx should be."),
    ],
)
def test_other_zip_files_are_named_for_what_they_are(tmp_path: Path, names: list[str], reason: str) -> None:
    path = tmp_path / "handed-in.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        for name in names:
            archive.writestr(name, "application/vnd.oasis.opendocument.spreadsheet")

    assert open_source(path).refused.startswith(reason)
