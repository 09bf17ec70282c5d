"""The numbers of this room, each with its reason."""

from __future__ import annotations

from dataclasses import dataclass

from ..model.layout import ANGLE_DIGITS, PLACE_DIGITS


@dataclass(frozen=True)
class FileLimits:
    """What files may hold. The schemas are built of these numbers once, so they are the same for every file."""

    json_bytes: int = 64 * 1024 * 1024
    """Of a JSON file, so that a wrong or hostile one does not fill the memory: room for a layout of thousands of
    parts."""
    narrowest_mm: float = 0.5
    """A part that is nowhere so wide is a line: the beam alone takes up to half of that."""
    key_steps: int = 50
    """Of a key in TOML, names with dots between: the reader's time grows with their square."""
    text_bytes: int = 4 * 1024 * 1024
    """Of a TOML or CSV file, for the same reason: no list made by hand is so long."""
    svg_bytes: int = 20 * 1024 * 1024
    """Of an SVG file, for the same reason; drawings with photos in them may be some megabytes."""
    drawings_kept: int = 300
    """Drawings that a program remembers as it understood them: more than a workshop has, some megabytes."""
    marked_bytes: int = 256 * 1024 * 1024
    """Of a file whose mark is looked for: the cards of a hundred bed loads take less."""
    svg_elements: int = 200_000
    """Of one drawing: its tree takes some hundred bytes of memory an element."""
    svg_depth: int = 100
    """Groups within groups. No editor nests deeper, and the readers that follow go down level by level, so that deeper
    ones could run out of stack."""
    svg_copies: int = 20_000
    """Elements drawn through ``use``: a few copies of copies of copies would be millions."""
    svg_points: int = 500_000
    """Of all lines of one drawing, so that huge curves of small tolerance end."""
    svg_rules: int = 2000
    """Style rules of one drawing: every element asks them all."""
    svg_numbers: int = 3_000_000
    """In one list of an SVG file, for memory's sake."""
    svg_digits: int = 100
    """Of one number there; converting thousands takes long."""
    greatest_number: float = 1e9
    """No file needs a number beyond; products of a few of them stay finite."""
    flat_determinant: float = 1e-18
    """A transform that shrinks areas more than this makes a line of them, and has no inverse to speak of."""
    farthest_drawn_mm: float = 1e6
    """From the drawing's origin: 1 km is in the wrong unit, and float arithmetic keeps a micron there."""
    farthest_mm: float = 20_000.0
    """From the origin of a hide or layout: no hide is 20 m long, such a coordinate is in the wrong unit."""
    ring_points: int = 200_000
    """Of one ring, and of all of a hide: a trace of 12 megapixels has a few thousand."""
    fine_part_points: int = 500
    """An outline of a part with more is planned with a plainer one around it, and burnt as drawn."""
    fine_hide_points: int = 5000
    """An outline of a hide with more, holes included, is replaced in a job by a plainer one inside it."""
    most_smoothing_mm: float = 6.0
    """By which the edge of that may be moved at most; what is finer still is no edge of leather."""
    most_rows: int = 10_000
    """Holes, zones, readings or suggestions of a hide, and copies of a part or product: more is no work of hands."""
    most_error_cells: int = 100
    """Places each way at which the error of an outline is stated: it changes slowly."""
    error_digits: int = 2
    """Decimals of mm of a stated error, which is never known so well."""
    most_entries: int = 1000
    """Settings of a workshop, products, and parts of one product, likewise."""
    most_faults: int = 100
    """Told of one file: who mends so many looks again anyway."""
    most_parts: int = 50_000
    """In one run, far beyond a year's work of one machine: more is a slip of the keyboard."""
    name_letters: int = 200
    """Of a name, so that tables and error lines can show it."""
    text_letters: int = 2000
    """Of a note, likewise."""
    thickest_mm: float = 20.0
    """No leather is thicker: such a number is in the wrong unit."""
    smallest_hide_mm: float = 10.0
    """No hide is under 10 mm long: such a file is in metres or inches."""
    least_part_mm: float = 1.0
    """No part is smaller, and below it everything is smaller than a beam's width: the drawing's unit is wrong."""
    greatest_part_mm: float = 5000.0
    """No part is longer than any hide: the drawing's unit is wrong."""
    reading_slack_mm: float = 1.0
    """A reading taken at the very edge may lie this far outside the simplified outline."""
    farthest_cut_off_mm: float = 5000.0
    """A reading of leather that was cut off may lie this far beside what is left: no hide is longer."""
    chord_mm: float = 0.05
    """Greatest distance of a curve from the chords that stand for it: half the width of the finest beam."""
    least_chords: int = 4
    """Of a curve, four times as many of a full turn: small round holes stay round."""
    closing_mm: float = 0.05
    """Ends of an outline or cutout no further apart are joined: a gap that no eye sees."""
    pdf_pages: int = 200
    """Of a PDF: a pattern as large as a hide is a hundred sheets of A4."""
    pdf_depth: int = 30
    """Forms within forms of a PDF, which may go round in a ring."""
    pdf_steps: int = 1_000_000
    """Operators of a page with all its forms, for time's sake."""
    tiled_chord_mm: float = 0.005
    """Greatest distance of a curve on a page of a PDF from its chords: where a page cuts a curve off, those are what is
    burnt."""
    check_sides_mm: tuple[float, ...] = (10.0, 20.0, 25.0, 25.4, 30.0, 50.0, 50.8, 100.0, 101.6)
    """Sides of squares that are printed to check the scale with: round numbers of mm, and 1, 2 and 4 in."""
    check_slack_mm: float = 0.1
    """So much may such a side be off."""
    page_gap_mm: float = 20.0
    """Between pages that are laid side by side."""
    largest_mark_mm: float = 20.0
    """Along an arm of a mark that two sheets share."""
    mark_slack_mm: float = 0.5
    """The arms of a mark meet, and seams pass it, within this."""
    mark_name_mm: float = 12.0
    """From the middle of a mark to where its name begins."""
    marks_agree_mm: float = 0.5
    """Marks of two pages give the same way from one to the other within this: what printing programs round."""
    page_edge_mm: float = 0.5
    """A line that ends so near the edge of what is drawn on a page is cut off there."""
    seam_mm: float = 0.5
    """Ends of a line on two pages are joined when they are no farther apart."""
    near_label: float = 0.75
    """How alike a word and a label are (difflib's ratio) before it is asked whether that was meant: stich and stitch
    are, fold line and outline are not."""
    largest_stitch_mm: float = 3.5
    """Across a stitch hole, or along a slit: pricking irons and lacing punches make none larger (working
    assumption)."""
    same_stitch: float = 1.1
    """Holes of one row differ in size by no larger a factor."""
    longest_stitch_mm: float = 15.0
    """From hole to hole in a row; lacing goes up to about 12 mm (working assumption)."""
    lone_stitch: float = 1.8
    """A hole farther from the next than so many steps of its row is none of it."""
    least_stitches: int = 4
    """Fewer small holes are no row but rivet holes."""
    open_slip_mm: float = 3.0
    """Ends of a line no farther apart were meant to meet, ..."""
    open_slip_share: float = 0.05
    """... unless the gap is a larger share of its length than this."""
    open_side_share: float = 0.25
    """A line around other shapes was meant to be closed when its gap is no larger a share of its length: one side
    of a square is missing."""
    same_mm: float = 1e-6
    """Points nearer to each other are one; rounding in an SVG file is coarser."""
    straight_mm: float = 1e-9
    """A curve whose control points make its way no longer than this is a straight line."""
    drawn_mm: float = 0.15
    """Shapes in a layout file lie no farther from the exact lines of their drawing: chords, and what simplifying and
    rounding move them by, several times over."""
    fit_mm: float = 0.0005
    """Greatest distance of a curve from the arcs that stand for it where it is burnt: lines burnt are to be true to
    0.005 mm, and moving them by half the kerf and writing them takes the rest."""
    fit_halvings: int = 5
    """Tries at a longer arc, each half as far as the one before."""
    shortest_fit: float = 1e-4
    """Of a curve, as a share of it: a stretch that arcs do not follow on so short a way is a straight line."""
    one_arc_rad: float = 1e-3
    """One arc stands for a curve whose two ends turn by as much: the directions there are off by half of that."""
    same_circle: float = 1e-6
    """An ellipse whose axes differ by no larger a share is a circle: rounding of transforms."""
    flat_mm: float = 1e-4
    """An arc that rises by less is a straight line."""
    flat_bulge: float = 4e-4
    """And whose ends turn from it by no more than twice this, radians: a short one would leave a corner."""
    least_radius: float = 1e-9
    """Of an arc, in the path's own units; below, its arithmetic would overflow."""
    clip_slack_mm: float = 0.05
    """A line may leave the nested drawing that clips it by so much: as chords may."""
    frame_slack_share: float = 0.002
    """The sides of a hide drawing's frame may have been scaled alike; one against the other by no more than this."""
    true_size_share: float = 1e-5
    """A frame scaled by less keeps its size: editors round the page's."""
    coordinate_digits: int = PLACE_DIGITS
    """Decimals of mm in a file."""
    angle_digits: int = ANGLE_DIGITS
    """Decimals of degrees."""


DEFAULT = FileLimits()
