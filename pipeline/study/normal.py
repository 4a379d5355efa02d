"""What a study says, apart from how its file is written: the same declaration has the same hash."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from typing import Any

from schemas.study import Study


def study_sha256(study: Study) -> str:
    """Hash of the study's content: comments, spaces and the order of entries and blocks do not count."""
    return hashlib.sha256(_text(study).encode()).hexdigest()


def _text(study: Study) -> str:
    # What is not said is left out: an entry that a later version adds does not change the hash of older studies.
    said: dict[str, Any] = _said(asdict(study))
    for name in ("coffees", "crosses", "blocks", "whole_plot", "factors", "grind_reference", "exclusions", "targets"):
        if name in said:
            said[name] = sorted(said[name], key=lambda one: json.dumps(one, sort_keys=True))
    return json.dumps(said, sort_keys=True, ensure_ascii=True)


def _said(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _said(one) for key, one in value.items() if not _is_unsaid(one)}
    return [_said(one) for one in value] if isinstance(value, list | tuple) else value


def _is_unsaid(value: object) -> bool:
    # A declared 0 is said.
    return value is None or value is False or value in ("", (), [])
