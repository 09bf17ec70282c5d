import re
import shutil
import subprocess

import cv2
import numpy as np
import pytest
from defusedxml import ElementTree
from PIL import Image
from shapely.geometry import Polygon

from nesting.errors import ModelError
from nesting.tracing.markers import MARKERS_A_PAGE, MOST_PAGES, SHEET_MM, dictionary, marker_place, write_marker_sheets

SVG = "{http://www.w3.org/2000/svg}"
LETTER_MM = (215.9, 279.4)


@pytest.fixture(scope="module")
def sheets(tmp_path_factory):
    return write_marker_sheets(tmp_path_factory.mktemp("sheets"), 3)


def detected(picture):
    corners, ids, _ = cv2.aruco.ArucoDetector(dictionary(), cv2.aruco.DetectorParameters()).detectMarkers(picture)
    return {int(marker): pixels.reshape(4, 2) for marker, pixels in zip(np.ravel(ids), corners)}


def drawn(svg_path, dots_per_mm=4):
    """The black areas of a sheet, painted by nothing but the numbers in its file."""
    page = ElementTree.parse(svg_path).getroot()
    picture = np.full((round(SHEET_MM[1] * dots_per_mm), round(SHEET_MM[0] * dots_per_mm)), 255, np.uint8)
    for path in page.iter(f"{SVG}path"):
        rings = [
            np.array(re.findall(r"[-\d.]+", ring), dtype=float).reshape(-1, 2) * dots_per_mm
            for ring in path.get("d").split("Z")
            if ring.strip()
        ]
        cv2.fillPoly(picture, [np.round(ring).astype(np.int32) for ring in rings], 0)
    return picture


def test_one_pdf_and_an_svg_for_each_page_are_written(sheets):
    assert [path.suffix for path in sheets] == [".pdf", ".svg", ".svg", ".svg"]
    assert all(path.stat().st_size > 1000 for path in sheets)


def test_every_svg_is_a4_at_true_size(sheets):
    for path in sheets[1:]:
        page = ElementTree.parse(path).getroot()
        assert (page.get("width"), page.get("height"), page.get("viewBox")) == ("210mm", "297mm", "0 0 210 297")


def test_every_page_of_the_pdf_is_a4_at_true_size(sheets):
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", sheets[0].read_bytes())
    assert len(boxes) == 3
    for width, height in boxes:
        assert float(width) * 25.4 / 72 == pytest.approx(210, abs=0.01)
        assert float(height) * 25.4 / 72 == pytest.approx(297, abs=0.01)


def test_the_line_to_check_the_printer_is_100_mm_long(sheets):
    lines = ElementTree.parse(sheets[1]).getroot().iter(f"{SVG}line")
    level = [line for line in lines if line.get("y1") == line.get("y2")]
    assert [float(line.get("x2")) - float(line.get("x1")) for line in level] == [100.0]


def test_the_markers_of_an_svg_sheet_are_read_back_where_they_are_said_to_be(sheets):
    for page, path in enumerate(sheets[1:]):
        found = detected(drawn(path))
        assert sorted(found) == list(range(page * MARKERS_A_PAGE, (page + 1) * MARKERS_A_PAGE))
        for marker, pixels in found.items():
            on_page, corners = marker_place(marker)
            assert on_page == page
            assert np.abs(pixels / 4 - (corners * (1, -1) + (0, SHEET_MM[1]))).max() < 0.5


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="needs a program that draws PDF files")
def test_the_markers_of_the_pdf_are_read_back_where_they_are_said_to_be(sheets, tmp_path):
    subprocess.run(["pdftoppm", "-r", "101.6", "-png", str(sheets[0]), str(tmp_path / "page")], check=True)
    for page, path in enumerate(sorted(tmp_path.glob("page*.png"))):
        found = detected(np.asarray(Image.open(path).convert("L")))
        assert sorted(found) == list(range(page * MARKERS_A_PAGE, (page + 1) * MARKERS_A_PAGE))
        for marker, pixels in found.items():
            assert np.abs(pixels / 4 - (marker_place(marker)[1] * (1, -1) + (0, SHEET_MM[1]))).max() < 0.5


def test_markers_keep_a_white_rim_and_fit_both_a4_and_letter_paper():
    squares = [Polygon(marker_place(marker)[1]) for marker in range(MARKERS_A_PAGE)]
    for number, square in enumerate(squares):
        left, low, right, high = square.bounds
        assert min(left, SHEET_MM[0] - right) >= 10
        assert min(low, SHEET_MM[1] - high) - (SHEET_MM[1] - LETTER_MM[1]) / 2 >= 10
        assert all(square.distance(other) >= 20 for other in squares[number + 1 :])


@pytest.mark.parametrize("pages", [0, MOST_PAGES + 1])
def test_a_number_of_pages_that_cannot_be_is_refused(tmp_path, pages):
    with pytest.raises(ModelError, match="1 to 8"):
        write_marker_sheets(tmp_path, pages)
