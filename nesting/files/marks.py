"""Which layout a file to burn, a card or a report is of, by the mark it carries."""

from __future__ import annotations

import re
from pathlib import Path

from .limits import DEFAULT

_MARK = rb"([0-9a-f]{8})"
_PLACES = {
    ".svg": re.compile(rb'data-layout="' + _MARK + rb'"'),
    ".dxf": re.compile(rb"999\r?\nlayout " + _MARK + rb"\r?\n"),
    ".html": re.compile(rb'<meta name="layout" content="' + _MARK + rb'">'),
    ".pdf": re.compile(rb"/Keywords \(layout " + _MARK + rb"\)"),
}
"""Where a file of each kind carries it."""


def read_mark(path: Path) -> str:
    """The mark of the layout that a file is of (see `model.Layout.mark`); empty when it carries none."""
    try:
        if path.stat().st_size > DEFAULT.marked_bytes:
            return ""
        found = _PLACES[path.suffix].search(path.read_bytes())
    except (OSError, KeyError):
        return ""
    return found[1].decode() if found else ""
