"""A settings file that people write by hand, read strictly: every complaint names the file, the line and the entry."""

from __future__ import annotations

import difflib
import math
import re
import tomllib
from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from schemas.problem import ProblemError


@dataclass(frozen=True)
class TomlFile:
    """A parsed file together with its text, so that a complaint can name a line."""

    path: Path
    text: str
    data: dict[str, Any]
    homes: Mapping[str, str] = field(default_factory=dict)
    """Where an entry belongs, by its name, for those that land in the wrong section."""

    def problem(self, section: str, key: str, said: str) -> ProblemError:
        """A complaint about one entry; `section` and `key` may be empty."""
        line = self._line_of(section, key) or self._line_of(key, "")
        where = f"{self.path} line {line}" if line else f"{self.path}"
        entry = " ".join(part for part in (f"[{section}]" if section else "", key) if part)
        return ProblemError(f"{where}: {entry} {said}" if entry else f"{where}: {said}")

    def _line_of(self, section: str, key: str) -> int:
        """Line of an entry, else of its section; 0 when it cannot be told. A repeated section is `name 2`, ..."""
        here, found, seen = "", 0, Counter[str]()
        for number, line in enumerate(self.text.splitlines(), start=1):
            header = re.match(r"\s*\[+\s*([^\]]+?)\s*\]", line)
            if header:
                here = header.group(1).replace('"', "").replace("'", "")
                seen[here] += 1
                here = nth_section(here, seen[here])
                found = number if here == section and not found else found
            name = re.match(r"\s*[\"']?([^\"'=#]+?)[\"']?\s*=", line)
            if key and here == section and name and name.group(1) == key:
                return number
        return found

    def only_known(self, section: str, entries: Mapping[str, Any], known: Collection[str]) -> None:
        """Refuse an entry that means nothing, with the likely one."""
        for key in entries:
            if key in known:
                continue
            if key in self.homes:
                raise self.problem(section, key, f"does not belong here; move it {self.homes[key]}.")
            near = difflib.get_close_matches(key, [*known, *self.homes], n=1)
            hint = f"did you mean {near[0]}?" if near else f"known here: {', '.join(known)}."
            if near and near[0] not in known:
                hint += f" If so, move it {self.homes[near[0]]}."
            raise self.problem(section, key, f"is not a setting; {hint}")

    def section(self, name: str) -> dict[str, Any]:
        """A whole section; empty when the file has none."""
        found = self.data.get(name, {})
        if not isinstance(found, dict):
            raise self.problem("", name, f"should be a section: write [{name}] on its own line, its entries below.")
        return found

    def words(self, section: str, key: str, value: object, *, one_of: Collection[str] = ()) -> str:
        """Text, perhaps out of a closed list."""
        if not isinstance(value, str):
            raise self.problem(section, key, f'should be text in quotes, such as "{value}".')
        if one_of and value not in one_of:
            near = difflib.get_close_matches(value, one_of, n=1)
            hint = f" Did you mean {near[0]}?" if near else ""
            raise self.problem(section, key, f'is "{value}"; it must be one of {", ".join(one_of)}.{hint}')
        return value

    def number(
        self, section: str, key: str, value: object, *, low: float = -math.inf, high: float = math.inf, hint: str = ""
    ) -> float:
        """A finite number within both bounds."""
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise self.problem(section, key, f"should be a number without quotes, not {_shown(value)}.")
        if not low <= value <= high:
            bounds = f"at least {low:g}" if math.isinf(high) else f"between {low:g} and {high:g}"
            raise self.problem(section, key, f"is {value:g}; it must be {bounds}{hint}.")
        return float(value)

    def count(self, section: str, key: str, value: object) -> int:
        """A whole number, zero or more."""
        if isinstance(value, bool) or not isinstance(value, int) or value < 0:
            raise self.problem(section, key, f"should be a whole number, zero or more, not {_shown(value)}.")
        return value


def nth_section(name: str, nth: int) -> str:
    """How a section that stands more than once is named.

    >>> nth_section("grind_reference", 1), nth_section("grind_reference", 2)
    ('grind_reference', 'grind_reference 2')
    """
    return name if nth == 1 else f"{name} {nth}"


def read_toml(path: Path, homes: Mapping[str, str] | None = None) -> TomlFile:
    """Read a settings file; a byte-order mark is forgiven, anything that is not TOML is not."""
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise ProblemError(f"{path} cannot be read: {error.strerror}.") from error
    return toml_of(raw, path, homes)


def toml_of(raw: bytes, path: Path, homes: Mapping[str, str] | None = None) -> TomlFile:
    """The bytes of a settings file; `path` is named in complaints."""
    try:
        text = raw.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        raise ProblemError(f"{path} is not plain UTF-8 text. Save it again as UTF-8 and retry.") from error
    return TomlFile(path, text, parse_toml(text, str(path)), homes or {})


def parse_toml(text: str, where: str) -> dict[str, Any]:
    """The entries of a settings text; what is not TOML is refused with the line as it stands in `where`."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        lines = text.splitlines()
        found = re.search(r"\(at line (\d+), column \d+\)", str(error))
        number = min(int(found.group(1)), len(lines)) if found else len(lines)
        line = lines[number - 1].strip() if lines else ""
        said = _not_toml(str(error), line, lines[: number - 1])
        raise ProblemError(f"{where} line {number} {said}") from error


def _not_toml(error: str, line: str, before: list[str]) -> str:
    if error.startswith("Cannot declare"):
        heading = line.split("#", maxsplit=1)[0].strip()
        same = [number for number, other in enumerate(before, start=1) if other.split("#")[0].strip() == heading]
        first = f" (first in line {same[0]})" if same else ""
        return f"has {heading} a second time{first}. Keep one of the two, and put the entries of both below it."
    if error.startswith("Cannot overwrite"):
        return f"sets something that is set already: {line}. Keep one of the two lines."
    return (
        f"cannot be understood: {line}. Write each entry as name = value on its own line; text stands in "
        '"quotes", a number does not and has a decimal point.'
    )


def _shown(value: object) -> str:
    return f'"{value}"' if isinstance(value, str) else str(value).lower()
