"""Sizes of what a photo's scale is taken from."""

import re

import pytest

from nesting.trace.markers import SHEET_MM, write_marker_sheets
from nesting.trace.references import CARD_MM


def test_a_sheet_is_iso_216_a4():
    """ISO 216: A4 is 210 mm x 297 mm."""
    assert SHEET_MM == (210.0, 297.0)


def test_a_card_is_iso_iec_7810_id_1():
    """ISO/IEC 7810: ID-1 is 85.60 mm x 53.98 mm."""
    assert CARD_MM == (85.60, 53.98)


def test_the_printed_sheets_have_the_size_of_a4(tmp_path):
    """ISO 216 for the page; PDF counts in points of 1/72 in (ISO 32000)."""
    paths = write_marker_sheets(tmp_path, 2)
    pdf = next(path for path in paths if path.suffix == ".pdf").read_bytes()
    boxes = re.findall(rb"/MediaBox\s*\[\s*([\d. ]+)\]", pdf)
    assert boxes
    for box in boxes:
        _, _, width, height = map(float, box.split())
        assert (width, height) == pytest.approx((210 / 25.4 * 72, 297 / 25.4 * 72), abs=0.1)
    svg = next(path for path in paths if path.suffix == ".svg").read_text()
    assert 'width="210mm"' in svg and 'height="297mm"' in svg
