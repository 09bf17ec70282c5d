"""The numbers of tracing: what a trace must keep to be believed, which a caller may change, and those of the method."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace

from ..errors import ModelError


@dataclass(frozen=True)
class TraceLimits:
    """What is accepted of a photo and its trace; where it is not, the photo is refused or somebody is asked."""

    tolerance_mm: float = 0.5
    """How far the outline may be simplified, mm; it adds to the expected error (working assumption: finer than leather
    can be laid)."""
    smallest_hole_mm: float = 4.0
    """Diameter of the smallest hole that is kept; smaller ones are specks of dirt as often (working assumption)."""
    error_share: float = 0.0025
    """Expected error at most, as a share of the hide's length (working assumption)."""
    error_mm: float = 1.5
    """Expected error, mm, that is accepted however small the hide is (working assumption)."""
    area_share: float | None = 0.01
    """The scale leaves no more than one chance in twenty that the area is off by more than this share; None: by
    anything (working assumption)."""
    blurred_pixels: float = 2.7
    """Standard deviation of the blur across an edge from which a photo may be called blurred: edges of photos traced
    right show 1 to 2.5, with JPEG's blur of hue (measured on rendered photos)."""
    blurred_mm: float = 1.5
    """Twice the blur across an edge, mm, that is accepted however many pixels it is (working assumption)."""
    unsteady_mm: float = 3.75
    """How far the end of a point or bay may move, mm, when the photo is given a little noise (measured with
    tests/benchmarks/photos.py)."""
    unsteady_pixels: float = 4.5
    """The same where a pixel is coarse (measured likewise)."""
    most_ends: int = 12
    """So many ends that move are too many to be looked at one by one (working assumption)."""
    least_contrast: float = 6.0
    """Distance of leather to floor, in standard deviations of a small pixel, at the faintest tenth of the outline
    (measured with tests/benchmarks/photos.py)."""
    astray_share: float = 0.0015
    """Of what lies near the outline, that may look like the other side of it (measured likewise)."""
    deepest_mm: float = 8.0
    """How far what looks like the other side may reach from the outline, mm (measured likewise)."""
    pinched_mm: float = 4.0
    """How far what hangs on by a narrow neck may reach from the outline, mm (measured likewise)."""
    helped_share: float = 0.5
    """Of contrast, what is enough when somebody showed where the leather is; doubts may be so many times as large then
    (working assumption)."""
    unsure_share: float = 0.005
    """Holes that may be stains are asked about where they are more than this share of the hide in all (working
    assumption)."""
    slit_mm: float = 6.0
    """A line that reaches so far into the leather, mm, must be told to be a slit or a mark (working assumption)."""
    inner_slit_times: float = 2.5
    """A line wholly within the leather is asked about where it is so many times as long (working assumption)."""
    hide_share: float = 0.01
    """Of the floor in the picture, that differs from it at least (working assumption: less is no hide)."""
    touching_share: float = 0.01
    """Of the rough outline, that may lie at the edge of the photo, where leather may be cut off (working
    assumption)."""
    worst_area_share: float = 0.05
    """The scale leaves no more than one chance in twenty that the area is off by more than this share, or no hide is
    given at all (working assumption: it would be of no use)."""
    worst_doubt_share: float = 0.15
    """Of the hide, that may be in doubt, or none is given (working assumption, likewise)."""
    alike_contrast: float = 1.5
    """Distance of leather to floor, as for ``least_contrast``, below which there is no outline (measured with
    tests/benchmarks/ordinary.py)."""
    near_share: float = 0.3
    """Of the picture, that shows floor not many times further away than the references: less is seen too much from the
    side (working assumption)."""
    odd_percent: float = 3.0
    """By how many per cent the axes of the floor may differ in length, or from a right angle, as four measured points
    have it: 0.4 at most through whole photos, 2.1 through photos of which a tenth was cropped, 2.9 or more in nine of
    ten cases where one of four numbers was mistyped by 100 mm in a metre (measured)."""
    flaw_unlike: float = 5.0
    """Distance of a suggested flaw from the leather around it, in standard deviations of that leather, at least."""
    flaw_mm2: float = 12.0
    """Area of the smallest flaw that is suggested (working assumption: smaller ones are pores)."""
    most_flaws: int = 60
    """How many are suggested, the surest first: more would not be looked at (working assumption)."""

    def __post_init__(self) -> None:
        for name, top in (("tolerance_mm", 20), ("smallest_hole_mm", 1000)):
            value = getattr(self, name)
            if not (isinstance(value, (int, float)) and 0 < value <= top):
                raise ModelError(name, value, f"give more than 0 and at most {top} mm")
        for entry in fields(self):
            value = getattr(self, entry.name)
            waived = entry.name == "area_share" and value is None
            if not waived and not (isinstance(value, (int, float)) and math.isfinite(value) and value >= 0):
                raise ModelError(entry.name, value, "give a number of 0 or more")
        if not self.helped_share > 0:
            raise ModelError("helped_share", self.helped_share, "give more than 0")

    def accepting(self, largest_error_mm: float) -> TraceLimits:
        """These limits, but for errors, which are all accepted up to so many mm: the expected error, whatever that
        makes of the area, blur, and how far the end of a point or bay may be unknown."""
        if not (isinstance(largest_error_mm, (int, float)) and 0 < largest_error_mm <= 1000):
            raise ModelError("largest_error_mm", largest_error_mm, "give more than 0 and at most 1000 mm")
        return replace(
            self, error_share=0.0, error_mm=largest_error_mm, area_share=None, blurred_mm=largest_error_mm,
            unsteady_mm=max(self.unsteady_mm, largest_error_mm),
        )  # fmt: skip

    def changed(self) -> dict[str, float | None]:
        """Those that differ from the defaults, by name."""
        return {
            entry.name: getattr(self, entry.name)
            for entry in fields(self)
            if getattr(self, entry.name) != entry.default
        }


@dataclass(frozen=True)
class PhotoMethod:
    """Reading the photo (photo.py)."""

    most_pixels: int = 80_000_000
    """Guards memory: more than any telephone's camera gives (working assumption)."""
    shortest_side_pixels: int = 64
    """Of a picture: a smaller one is an icon, no photo (working assumption)."""


@dataclass(frozen=True)
class ScaleMethod:
    """The mapping from photo to floor (scale.py), and the fit behind it (fit.py)."""

    samples: int = 96
    """Equally likely mappings by which it is seen how wrong a shape may be: enough for quantiles of 0.68 and 0.95
    (working assumption)."""
    sure: float = 0.9
    """Share of these that leave a place, or most of an outline, nearer than its stated error."""
    most_of_it: float = 0.95
    """Of an outline, that its stated error is of."""
    swelling_mm: float = 0.2
    """Spread (1 s.d.) of how much larger or smaller printed black shows on each side than it was drawn: ink runs, and
    where black and white share a pixel its light is shared, not its grey level (our assumption, no published
    source)."""
    shown_k1: float = 0.03
    """Spread (1 s.d.) of the first radial term of the lens, at the corner of the picture, where several sheets, or more
    points than the four that fix a homography, reveal it (our assumption, no published source)."""
    shown_k2: float = 0.015
    """The same of the second term."""
    hinted_k1: float = 0.012
    """The same of the first where only the edges of one sheet reveal it, or nothing, and nobody knows what
    took the photo (our assumption, no published source)."""
    hinted_k2: float = 0.006
    """The same of the second term."""
    phone_k1: float = 0.006
    """The same of the first in a telephone's photo, which it straightens itself (our assumption)."""
    phone_k2: float = 0.004
    """The same of the second term."""
    bow_pixels: float = 0.1
    """Spread (1 s.d.) of how far the ends of a straight edge seem to bend from its middle (our assumption)."""
    bow_share: float = 3e-4
    """The same as a share of half its length, since paper is cut and lies so straight (0.05 mm in 150; our
    assumption)."""
    tape_mm: float = 1.5
    """How far a length read off a tape, and the pixels between which it was, may be off (1 s.d., our assumption)."""
    tape_share: float = 0.001
    """The same further as a share of the length (our assumption: tapes of class III, 2014/32/EU, are off by 0.04 % at
    most, but sag and turn aside)."""
    most_thick_share: float = 0.1
    """Of the camera's height, that leather may be thick at most; what is thicker was measured in other units."""
    camera_spread: float = 0.01
    """How well square pixels and an optical axis in the middle hold in a photo that was not cropped (1 s.d., our
    assumption), while it is not yet known which sheet of paper is one."""
    square_spread: float = 0.0005
    """How well square pixels hold (1 s.d., our assumption: sensors are etched far more exactly)."""
    axis_spread: float = 0.003
    """How far the optical axis may lie from the middle of the picture, over the long side (1 s.d., our assumption: 12
    pixels of 4000, as lenses that move against shake do)."""
    least_spread: float = 1e-6
    """Of what is taken to be known exactly."""
    told_focal_spread: float = 0.05
    """Of its logarithm where the photo says what it is: whether by the width or the diagonal is told by nobody (1 s.d.,
    our assumption)."""
    sensors_mm: tuple[float, ...] = (53.4, 43.8, 36.0, 23.5, 22.3, 17.3, 13.2)
    """Long sides of the sensors of cameras: two of middle format, 36 x 24 mm, the two usual smaller ones, four thirds,
    one inch (nominal sizes, from memory)."""
    sensor_share: float = 0.02
    """By how much what a photo notes of its sensor may differ from one of these (working assumption)."""
    phone_focal: float = 0.74
    """Focal length over the long side of a telephone's usual lens, whose true focal length is this short (24 to 28 mm
    equivalent)."""
    phone_focal_spread: float = 0.12
    """Of its logarithm (1 s.d., our assumption)."""
    phone_mm: float = 10.0
    """True focal lengths shorter than this, mm, are those of telephones."""
    focal: float = 0.8
    """Focal length over the long side before looking (telephones at 24 to 50 mm equivalent)."""
    focal_spread: float = 0.35
    """Of its logarithm (1 s.d., for the same telephones)."""
    slope_spread: float = 0.36
    """Slope of the floor to the camera (1 s.d., our assumption: 20 degrees)."""
    focal_tries: int = 301
    """So many focal lengths are tried where only the homography tells (working assumption)."""
    focal_spreads: float = 3.0
    """Within so many spreads focal lengths are tried: beyond three there is one case in 370."""
    lens_rounds: int = 10
    """In which the lens is undone, each nearer by the lens's own bend (working assumption: ten leave no error for terms
    of 0.03)."""
    fit_rounds: int = 100
    """Of the least squares at most (guards against a fit that does not settle)."""
    fit_settled: float = 1e-5
    """Relative fall of the cost below which nothing more is to be gained."""
    first_damping: float = 1e-3
    """With which the least squares begin (working assumption)."""
    least_damping: float = 1e-12
    """Below this it is rounded away (working assumption)."""
    most_damping: float = 1e12
    """Above this steps are rounded away (working assumption)."""
    damping_up: float = 4.0
    """Times by which damping grows after a step that fails (working assumption)."""
    damping_down: float = 5.0
    """Times by which it falls after one that succeeds (working assumption)."""


@dataclass(frozen=True)
class CameraMethod:
    """Measuring a camera (camera.py)."""

    fewest_sheets: int = 2
    """One sheet alone leaves focal length and tilt open."""
    least_lens_spread: float = 0.0005
    """What focusing nearer or further changes in the lens at least (our assumption)."""
    least_focal_spread: float = 0.004
    """What it changes in the logarithm of the focal length at least (our assumption)."""
    most_focal_spread: float = 0.15
    """Of the logarithm of the focal length, beyond which the profile is refused (working assumption)."""
    short_focal: float = 0.7
    """Focal length over the long side, of a wide lens, from which one fit starts (working assumption)."""
    long_focal: float = 1.1
    """The same of a long one, from which another starts (working assumption)."""
    outlying_spreads: float = 3.0
    """Standard deviations from which a marker's corner counts for less (soft L1; working assumption)."""
    most_trials: int = 200
    """Of the fit at most (guards against one that does not settle)."""


@dataclass(frozen=True)
class ReferenceMethod:
    """What gives the scale (references.py)."""

    shortest_focal: float = 0.5
    """Over the long side, of a wide lens: from here focal lengths are tried against four measured points."""
    longest_focal: float = 3.0
    """The same of a long lens, to which they are tried."""
    focals: int = 40
    """How many of them: 5 % from each to the next."""
    marker_sigma_pixels: float = 0.2
    """Standard deviation of a marker's corner (working assumption)."""
    edge_sigma_pixels: float = 0.25
    """The same of a corner where fitted edges meet, while it is not yet known what is a sheet (working assumption)."""
    sheet_sigma_pixels: float = 0.1
    """The same once it is (0.09, root mean square, on rendered photos of lone sheets)."""
    sheet_flat_mm: float = 0.07
    """How far a corner of paper may be aside besides, since it is not cut or does not lie quite so (1 s.d., our
    assumption)."""
    cut_share: float = 0.0008
    """By which each side may be cut, or printed, longer or shorter (1 s.d., our assumption: 0.24 mm of A4; ISO 216
    allows 2 mm, paper is cut far nearer; ISO/IEC 7810 allows a card 0.13 mm)."""
    most_posed_chi_square: float = 24.0
    """How badly a sheet and the pose of a camera may fit each other, in variances: worse is one in a thousand, and
    shows a cropped photo or a creased sheet (chi-square of about 8 degrees of freedom)."""
    click_sigma_pixels: float = 1.5
    """The same of a corner pointed at by hand (working assumption)."""
    most_chi_square: float = 12.0
    """How badly a sheet and an ordinary camera may fit each other, in variances (working assumption)."""
    nearly_chi_square: float = 50.0
    """Up to which a sheet that does not fit is named with its place (working assumption)."""
    clearly_worse: float = 6.0
    """Chi-square by which another must be worse to be out of the question: odds of 20 to 1, if both were as likely
    before."""
    most_quads: int = 12
    """Four-sided things that are tried as sheets (guards time)."""
    most_together: int = 5
    """Of these, that are tried in pairs (guards time)."""
    same_sheet_share: float = 0.1
    """Of its area, by which another sheet may differ, seen through the uncertain tilt of the first, and be of the same
    paper (working assumption)."""
    disagree_share: float = 0.15
    """Of its area, by which a likely sheet differs that gives another scale (working assumption)."""
    most_apart_times: float = 3.0
    """How many times more than usual the corners of several sheets may disagree (working assumption)."""
    whiter_times: float = 1.15
    """How many times as bright as another thing a sheet is at least to be told from it by that, where their shapes
    speak for either (working assumption)."""
    far_whiter_times: float = 1.4
    """The same where both suit a sheet alone (working assumption)."""
    most_off_times: float = 8.0
    """Times the usual error of a corner beyond which references do not agree at all (working assumption)."""
    most_off_share: float = 0.002
    """The same as a share of the long side; the larger counts (working assumption)."""
    shortest_length_pixels: float = 50.0
    """Of a length read off a tape: over less its ends are not known well enough (working assumption)."""
    most_length_times: float = 4.0
    """A length is refused that differs from what the rest of the references makes of it by more than so many standard
    deviations of both."""
    length_share: float = 0.005
    """Standard deviation of a length read off a tape along leather, ends in the photo included, as a share (working
    assumption)."""
    glance_pixels: int = 800
    """Longest side of the photo in which it is seen why no sheet was found."""
    white_level: int = 200
    """Grey level from which what is there may be paper (working assumption)."""
    white_share: float = 0.003
    """Of the picture, that it covers at least (working assumption)."""
    glaring_level: int = 253
    """Grey level of what is overexposed."""
    glaring_share: float = 0.6
    """Of a sheet and what is right around it, that is overexposed where its edges are lost (working assumption)."""
    most_points: int = 1000
    """Measured points (guards time)."""
    furthest_point: float = 1e6
    """Pixels or mm of a measured point: what is further is mistyped."""
    on_line_share: float = 0.02
    """Three points lie on a line where they are no further aside of it, as a share of their distance (working
    assumption)."""
    marker_pixels: int = 4500
    """Longest side of the photo that markers are sought in (guards time)."""
    marker_perimeter_share: float = 0.02
    """Of the long side, that a marker's rim is long at least (working assumption)."""
    marker_off_share: float = 0.25
    """Of a marker's diagonal, by which another of its sheet may lie off (working assumption)."""
    drawn_pixels: float = 6.0
    """How far corners given by hand are drawn to edges near by (working assumption)."""
    drawn_share: float = 0.004
    """The same as a share of the long side; the larger counts."""


@dataclass(frozen=True)
class QuadMethod:
    """Four-sided sheets (quads.py). Those without a reason are working assumptions."""

    search_pixels: int = 1600
    """Longest side of the photo that sheets are sought in (guards time)."""
    smallest_share: float = 0.0003
    """Of the picture, that a sheet covers at least."""
    largest_share: float = 0.2
    """Of the picture, that it covers at most: the hide must find room beside it."""
    most_trials: int = 300
    """Four-sided outlines that are looked at, the most likely first (guards time)."""
    most_found: int = 24
    """Sheets that are kept (guards time)."""
    shortest_side_pixels: float = 28.0
    """Of a sheet: edges of less are not placed well enough."""
    judged_pixels: int = 2500
    """Of a sheet and its rim, spaced evenly, by which both are judged (guards time)."""
    first_level: int = 24
    """Grey level at which sheets are first parted from what is around them."""
    last_level: int = 252
    """Grey level before which they are parted for the last time."""
    white_step: int = 6
    """Grey levels from one to the next for white sheets."""
    coloured_step: int = 8
    """The same for others."""
    gentle_edge: float = 20.0
    """Slope of grey levels at which edges are drawn for the first time."""
    steep_edge: float = 50.0
    """The same for the second time."""
    edge_times: float = 2.5
    """How many times as steep an edge must be to begin."""
    edge_blur_pixels: float = 1.2
    """Standard deviation of the smoothing before edges are drawn."""
    alike_share: float = 0.5
    """Of the larger, that two outlines share that are of one sheet."""
    failed_share: float = 0.95
    """The same with one whose edges were not seen: a level may have cut a corner off."""
    most_failed: int = 3
    """So many such outlines of one sheet are enough."""
    convex_share: float = 0.93
    """Of its convex hull, that a sheet fills."""
    corner_share: float = 0.04
    """Of its length, by which an outline is simplified to find four corners."""
    area_share: float = 0.12
    """By which the area within these may differ from that of the outline."""
    rim_pixels: int = 2
    """From the edge of the picture to a corner, so that the whole sheet is seen."""
    around_share: float = 0.2
    """Of the side of a square as large, that is looked at around a sheet."""
    inner_times: float = 0.86
    """Of a sheet's size, within which its own colour is seen, clear of its edge."""
    outer_times: float = 1.12
    """Of its size, beyond which the rim's colour is seen."""
    fewest_pixels: int = 20
    """Of a sheet, and of its rim, by which they are judged."""
    white_above: float = 12.0
    """Grey levels by which a white sheet is brighter than its rim on the whole."""
    white_above_each: float = 3.0
    """Grey levels by which it is brighter in each colour: the light may tint both."""
    white_spread: float = 25.0
    """Standard deviation of a plain sheet at most."""
    white_tint: float = 60.0
    """Grey levels by which its colours may differ."""
    white_noise: float = 6.0
    """Grey levels added to its spread, so that a very even one is not believed for that alone."""
    coloured_above: float = 15.0
    """Grey levels by which another differs from its rim."""
    coloured_noise: float = 12.0
    """Grey levels added to the rim's spread, as above."""
    print_share: float = 0.1
    """Of a sheet's area, below which a rectangle on it is print."""
    first_reach_share: float = 0.04
    """Of a side's length, within which its edge is sought at first."""
    first_reach_pixels: float = 4.0
    """Pixels within which it is sought at first, at least."""
    reach_share: float = 0.015
    """The same once the edge is known roughly."""
    reach_pixels: float = 2.5
    """Pixels within which it is sought then, at least."""
    shortest_edge_pixels: float = 8.0
    """A side shorter than this has no edge to be placed."""
    corner_clear_share: float = 0.12
    """Of a side, at each end, that is left out: corners are rounded or dog-eared."""
    edge_points: int = 90
    """Along a side, at which its edge is placed."""
    least_step: float = 8.0
    """Of colour across an edge, in grey levels of luma."""
    profile_blur: float = 1.0
    """Standard deviation, in half pixels, of the smoothing across an edge."""
    outlying_pixels: float = 0.6
    """A point of an edge may be so far from its line, whatever the median is."""
    outlying_times: float = 2.5
    """Times the median distance from the line beyond which a point is left out."""
    outlying_rounds: int = 4
    """Times that such points are sought."""
    edge_share: float = 0.5
    """Of the points, that lie on the line at least."""
    most_ragged_pixels: float = 1.0
    """Root mean square of the distances from the line at most, for a short edge."""
    most_ragged_share: float = 0.002
    """Of an edge's length, by which that may be more, since a lens bends it."""
    tangent_rounds: int = 3
    """In which the crossing of two parabolas is sought."""


@dataclass(frozen=True)
class ColourMethod:
    """Light and colours (colours.py). Those without a reason are working assumptions."""

    light_pixels: int = 300
    """Longest side of the picture that the light is fitted in (guards time)."""
    fewest_pixels: int = 50
    """Of floor, to which light is fitted."""
    dark_levels: float = 8.0
    """Grey levels added before the logarithm, so that noise in black counts little."""
    light_rounds: int = 5
    """In which what is unlike the rest of the floor comes to count for less."""
    outlying_times: float = 1.5
    """Times the median distance from the fit from which a pixel counts for clearly less."""
    most_light: float = 0.7
    """Logarithm of how much brighter or darker light may be made: by a factor of two."""
    least_spread: float = 1.5
    """Standard deviation of a colour in L*, a* and b* at least: less is a picture's rounding."""
    most_sample: int = 20_000
    """Pixels that colours are learnt from (guards time)."""
    distributions: int = 6
    """Normal distributions that describe a floor or a leather."""
    fewest_each: int = 40
    """Pixels for each of them."""
    rounds: int = 20
    """Of k-means, at most."""
    settled: float = 0.1
    """Of L*, by which the means may still move."""


@dataclass(frozen=True)
class LeatherMethod:
    """Telling leather from floor, roughly (leather.py). Those without a reason are working assumptions."""

    frame_share: float = 0.035
    """Of the short side: breadth of the frame of the picture that is taken to be floor."""
    beside_share: float = 0.02
    """Of the long side: how far around a reference is taken to be floor."""
    heart_share: float = 0.35
    """Of the greatest depth, beyond which a region is surely what it is."""
    rough_pixels: float = 2.0
    """Standard deviation of the window in which roughness is seen."""
    rough_times: float = 2.0
    """How many times roughness counts as much as colour."""
    smooth_pixels: float = 0.8
    """Standard deviation of the smoothing of colours."""
    shading: float = 0.3
    """By what share light and shadow may scale a colour."""
    relit: float = 6.0
    """Distance in variances to which a colour is the same in another light."""
    telling: float = 3.0
    """By how many variances leather must be nearer than floor, or floor than leather, to be told by that."""
    most_unlike: float = 25.0
    """Variances beyond which all is unlike."""
    middle_share: float = 0.5
    """Of the greatest depth, beyond which the middle of the picture begins."""
    bearings: int = 36
    """Stretches of the frame."""
    met_share: float = 0.3
    """Of a stretch, that a colour must have to be met there."""
    most_bearings: int = 14
    """A colour met on fewer is met on one side of the frame only."""
    central_share: float = 0.05
    """Of the middle of the picture, that a colour must have at least to be leather's."""
    central_times: float = 2.0
    """How many times its share of the frame that must be."""
    fewest_others: int = 100
    """Pixels of other floor, to see whether it is the same in another light."""
    kept_share: float = 0.3
    """Of what is taken to be floor, that must stay: else all does."""
    smooth_strange_pixels: float = 1.2
    """Standard deviation of the smoothing of what is unlike floor."""
    told_pixels: int = 4
    """Around a place that was told to be leather, where its colours are learnt."""
    told_distributions: int = 3
    """By so many normal distributions."""
    usual_quantile: float = 0.98
    """Of the floor, that is as unlike floor as is usual."""
    unusual_times: float = 3.0
    """Times as unlike as that is leather at once."""
    levels_each: float = 12.0
    """Steps to a standard deviation in which the level between leather and floor is sought (Otsu 1979)."""
    rare_share: float = 0.02
    """Colours of leather rarer than this are left out."""
    heart_pixels: int = 4
    """From what is not leather, where its colours are learnt."""
    certain_times: float = 0.7
    """Of the median, as unlike floor as certain leather is."""
    certain_pixels: int = 6
    """From the rim of a region, where it is certain."""
    relit_times: float = 0.5
    """Of the median, as unlike floor as leather in another light."""
    fewest_heart: int = 100
    """Pixels of leather, to see what it is in another light."""
    smooth_nearer_pixels: float = 2.0
    """Standard deviation of the smoothing of whether leather or floor is nearer."""
    speck_pixels: int = 1
    """Radius of specks that are left out."""
    gap_pixels: int = 3
    """Radius of gaps that are closed."""
    fewest_cut: int = 120
    """Pixels that a region has at least for its colours to be learnt at half the size."""
    far_share: float = 0.12
    """Of the long side, beyond which from the likely region all is floor."""
    cut_rounds: int = 3
    """Of the graph cut at half the size."""
    rim_pixels: int = 3
    """Around a reference, that leather may not touch."""
    rim_share: float = 0.02
    """Of that rim, that may seem to be leather."""
    fewest_rim: int = 4
    """Pixels of it that may, however small it is."""


@dataclass(frozen=True)
class MendMethod:
    """Bays, points and holes (mend.py)."""

    floor_like: float = 16.0
    """Squared distance from floor, in variances, to which a colour is floor's: 99.9 % of a normal colour (chi-square,
    three degrees of freedom)."""
    unlike: float = 16.0
    """The same from leather."""
    mixed_share: float = 0.08
    """Of the squared distance from leather to floor, at which a pixel may be floor, or leather, blurred."""
    close_share: float = 0.05
    """The same at which the middle of a hole still is floor, in a gleam or in shadow."""
    perhaps_share: float = 0.15
    """The same at which it is in doubt whether it is (working assumption)."""
    filled_unlike: float = 60.0
    """Squared distance from leather, in variances, from which a few pixels may be the middle of a hole that blur all
    but fills (working assumption)."""
    filled_pixels: int = 3
    """To each side of its middle, that such a hole may be broad (working assumption)."""
    smooth_pixels: float = 0.8
    """Standard deviation of the smoothing of colours (working assumption)."""
    clear_times: float = 2.0
    """Beyond so many times what the rough region may be off, floor is surely floor (working assumption)."""
    point_times: float = 4.0
    """Within so many times that, points of leather may have been missed (working assumption)."""
    fewest_floor: int = 50
    """Pixels of floor to learn from; with fewer nothing is mended (working assumption)."""
    leather_step: int = 8
    """Pixels each way that become one where the leather near by is seen (guards time)."""
    leather_window: int = 21
    """Of these each way, whose median holes do not sway (working assumption)."""
    sure_share: float = 0.98
    """Of such a cell, that is leather (a rim of floor would tint it)."""
    half_share: float = 0.5
    """The same where no cell is so sure."""
    stained_way: float = 0.45
    """Share of the way from stained leather to floor below which a spot is a stain (measured on rendered photos, see
    the next)."""
    surely_way: float = 0.85
    """Below this a spot so large that its middle is no blur may be one (measured on rendered photos: holes 0.88 and
    more but for four of 0.74 to 0.80, stains 0.66 to 0.73)."""
    large_pixels: int = 100
    """Square pixels from which a spot is so large (working assumption)."""
    telling: float = 1.2
    """By how much a* and b* of leather and floor must differ to tell stains from holes (working assumption)."""
    varied_times: float = 1.65
    """By how many times as much as the floor's own they must differ: of a normal distribution 5 % lie further to one
    side."""
    unusual: float = 3.0
    """Squared distance from the floor's colours, in variances, from which so large a spot may as well be a stain
    (measured on rendered photos: 95 % of 368 holes were nearer, 16 of 23 stains further)."""
    shaded_unlike: float = 60.0
    """Squared distance from leather, in variances, from which a darker spot may be floor in the shade of a hole
    (measured on rendered photos: marks were less unlike)."""
    shaded_from: float = 0.5
    """Part of the way from leather to floor in a* and b* on which it lies then, at least (measured: 0.6 to 1.0)."""
    shaded_to: float = 1.4
    """The same at most (measured likewise)."""
    shaded_aside: float = 0.2
    """How far aside of that way it lies at most, as a share of it (measured: 0.01 to 0.13)."""
    shaded_apart: float = 10.0
    """How long that way is at least, in a* and b* (measured: 19 and more)."""
    line_unlike: float = 25.0
    """Squared distance from leather, in variances, from which there may be a line (working assumption)."""
    line_deep_pixels: float = 4.0
    """From the edge, that a line lies at least (working assumption)."""
    line_wide_pixels: int = 9
    """That a line is thick at most (working assumption)."""
    line_long_pixels: float = 8.0
    """That a line is long at least (working assumption)."""
    most_lines: int = 60
    """How many are looked at, the longest first (guards time)."""
    rough: float = 3.0
    """Standard deviation of L* over a few pixels from which a floor is rough nearly everywhere (working assumption)."""
    rough_window: int = 7
    """Pixels each way in which that is seen (working assumption)."""
    smoothest_share: float = 0.05
    """Of a floor, that is smoothest: the faces of bricks between rough joints."""
    smooth_grain: float = 0.75
    """How much of what varies there a hole must show (measured on rendered photos)."""
    sure_grain: float = 1.5
    """How much of it tells for sure that it is one (our choice)."""
    rim_pixels: float = 2.0
    """By which a hole shows smaller than it is, since half-covered pixels at its rim look like neither."""
    least_spot_pixels: float = 1.5
    """Diameter of the smallest spot that is looked at, however small holes may be (working assumption)."""
    heart_share: float = 0.7
    """Of its greatest depth, beyond which a spot's own colour is seen (working assumption)."""
    grain_share: float = 0.4
    """Of its greatest depth, beyond which a spot's grain is seen (working assumption: grain needs more pixels than
    colour)."""
    grain_depth_pixels: float = 1.5
    """From its rim, beyond which it is seen at least (working assumption)."""
    fewest_grain: int = 25
    """Pixels by which it is seen at least (working assumption)."""
    shaded_share: float = 0.5
    """Of a spot's middle, that must seem to be floor in shade (working assumption)."""
    least_bright: float = 5.0
    """L* below which the ratio of a* and b* to it is not taken (guards against dividing by nothing)."""


@dataclass(frozen=True)
class SideMethod:
    """Leather and floor near each place along an edge (sides.py)."""

    window_pixels: float = 26.0
    """Standard deviation of the window in which leather and floor are learnt (working assumption)."""
    step: int = 4
    """One pixel in so many each way is looked at (guards time)."""
    merged: int = 2
    """So many of these each way become one before the window is laid over them, which changes little and is fast."""
    deepest_windows: float = 4.0
    """Windows from the edge beyond which nothing is learnt (working assumption)."""
    wide_share: float = 0.01
    """What a second window, four times as wide, counts for, where the first finds nothing (working assumption)."""
    faintest_share: float = 1e-6
    """Of the window, that all that is known of a side counts for, where little of it is near (working assumption)."""
    known_share: float = 0.1
    """Of the window, that must be known for its spread to count as usual (working assumption)."""
    own_share: float = 0.8
    """Of the spread, that is what was found near by (working assumption)."""
    usual_share: float = 0.2
    """Of the spread, that is the usual one (working assumption)."""
    least_variance: float = 0.5
    """Added to the spread in each of L*, a* and b*: a picture's rounding (working assumption)."""
    towards_light: float = 0.5
    """How far from the middle of two colours to the colour of half the light of each the edge is sought (measured)."""
    least_middle: float = 0.43
    """Least share of the way from floor to leather at which the edge is sought: further towards the floor, shadows and
    seams would pass for dark leather (measured)."""
    most_middle: float = 0.75
    """The most."""
    shaded_share: float = 0.1
    """Standard deviation, as a share, of what light and shadow do to the colour of a floor (working assumption)."""
    strip_pixels: float = 4.0
    """Standard deviation of the window in which it is seen whether light or shadow falls (working assumption)."""
    cell_pixels: int = 4
    """Side of the cells that it is laid over (guards time)."""
    differ: float = 0.15
    """How far the judgements with and without light and shadow must lie apart there: floor is told from leather by hue
    then, which JPEG stores at half the sharpness (measured on rendered photos)."""
    hue_astray: float = 1.4
    """Standard deviation of what JPEG leaves of a* and b* beside an edge, where it blurs and rounds hue; the flat of
    leather and floor does not show it, and where hue was trusted as it is there, thin hairs of leather were lost
    (measured on rendered photos)."""
    shade_share: float = 0.5
    """Of the L* of leather, by which a shadow in it is as unlike leather as floor is (working assumption)."""
    least_bright: float = 25.0
    """Leather darker than this L* shows it less (working assumption)."""


@dataclass(frozen=True)
class EdgeMethod:
    """The edge to a fraction of a pixel (edge.py)."""

    smoothing_pixels: float = 5.0
    """The judgement of a pixel is smoothed by so much / contrast: enough that noise cannot flip it (working
    assumption)."""
    least_blur_pixels: float = 0.7
    """By which it is smoothed at least (working assumption)."""
    most_blur_pixels: float = 5.0
    """By which it is smoothed at most (working assumption)."""
    blur_steps: int = 5
    """Degrees of smoothing from the least to the most, between which it is told (guards time)."""
    first_deep_times: float = 0.6
    """Times what the region may be off, from its edge, at which leather and floor are learnt at first (working
    assumption)."""
    first_times: float = 1.3
    """Times that, within which pixels are judged at first (working assumption)."""
    deep_pixels: float = 2.0
    """From the edge, at which they are learnt once it is known (working assumption)."""
    broad_times: float = 1.5
    """Times as far from the edge as it may lie, within which pixels are judged at last (working assumption)."""
    drawn_times: float = 0.7
    """Times as far, within which the outline is drawn (working assumption)."""
    tip_deg: float = 75.0
    """How sharp a corner is at most that is a tip, around which pixels are judged as far as a tip is followed (working
    assumption)."""
    tip_times: float = 1.25
    """Times as far as a tip is followed, that they are judged around it (working assumption)."""
    place_pixels: float = 12.0
    """From each place along an outline to the next, at which it is judged how fine the photo is (guards time)."""
    thin_pixels: float = 4.0
    """Length from which something narrow may be a line on the floor (working assumption)."""
    widest_pixels: float = 8.0
    """How wide such a line is at most (working assumption)."""
    solid: float = 0.75
    """What looks as much like leather as this is none (working assumption)."""
    onward_from_pixels: float = 14.0
    """Beyond its end, from where it is looked for (working assumption)."""
    onward_to_pixels: float = 24.0
    """Beyond its end, to where it is looked for (working assumption)."""
    onward_turns_deg: tuple[float, ...] = (-12.0, -6.0, 0.0, 6.0, 12.0)
    """By how much its way may turn there (working assumption)."""
    onward_like: float = 0.3
    """How much like leather it is there (working assumption)."""
    odd_share: float = 0.4
    """A colour beyond that of leather or floor by more than this share of the way between them is that of something
    else (working assumption)."""
    odd_spreads: float = 8.0
    """If it lies beyond by so many standard deviations, too (working assumption)."""
    speck_pixels: int = 30
    """How long something else may be to count as a speck (working assumption)."""
    speck_rim_pixels: int = 3
    """By which its rim is blurred (working assumption)."""
    all_round_share: float = 0.65
    """Of what lies around it, that must be leather, or floor, for it to lie on that (working assumption)."""
    noise: float = 3.5
    """Standard deviation, in grey levels of 255, of the noise that an outline is tried with where a pixel is a mm; in
    proportion for others, since the larger a pixel, the less noise a photo has. An end that little noise moves far is
    not known (measured on rendered photos)."""
    most_noise: float = 5.0
    """The same at most (measured likewise)."""
    draws: int = 4
    """How often it is tried (guards time)."""
    tile_pixels: int = 509
    """Side of the square of noise that is repeated (guards memory; a prime, so that it meets no pattern of the photo in
    step)."""
    hue_noise: float = 2.0
    """Standard deviation of further noise in hue alone, in each of Cb and Cr: what JPEG leaves of hue beside an edge is
    off by 2 to 4 grey levels (measured on wedges saved with quality 70)."""
    hue_blur_pixels: float = 1.5
    """By which that noise is blurred: what JPEG leaves is alike over two pixels and more (measured likewise)."""
    clearly_share: float = 0.75
    """Where half of the tries move an end by less than this share of what is put up with, or that by less than this
    share of what they move, the other half is spared."""
    most_ends: int = 100
    """How many ends that move are looked for (guards time)."""
    around_pixels: float = 40.0
    """Around a place that somebody found to be traced correctly, within which nothing is in doubt (working
    assumption)."""
    compared_pixels: float = 2.0
    """From each place at which two outlines are compared to the next (guards time)."""
    alike_pixels: float = 1.0
    """How far they may lie apart there to count as the same (guards time)."""
    compared_tolerance_pixels: float = 0.2
    """By which both are simplified before (guards time)."""
    along_pixels: float = 6.0
    """Standard deviation of the smoothing along an outline by which its raggedness is measured (working assumption)."""
    across_pixels: float = 9.0
    """To either side of an outline, in which its blur is looked for (working assumption)."""
    line_tolerance_pixels: float = 0.3
    """By which an outline is simplified before lines on the floor are sought in it (guards time)."""
    steady_pixels: float = 0.4
    """How far 95 % of a smooth outline lie from the truth at most, besides what its scale is off (measured on rendered
    photos)."""
    ragged_times: float = 2.8
    """Times its raggedness that they lie further (measured likewise)."""


@dataclass(frozen=True)
class CurveMethod:
    """How sharp an outline turns (curve.py)."""

    near_pixels: int = 3
    """From a tip along the outline, from where its sides are looked at (working assumption: nearer is blur)."""
    far_pixels: int = 12
    """From a tip along the outline, to where its sides are looked at (working assumption)."""
    shortest_pixels: float = 80.0
    """Around an outline: a shorter one is too small to have tips (working assumption)."""


@dataclass(frozen=True)
class NeedleMethod:
    """Spikes and bays thinner than the blur (needles.py)."""

    bluntest_deg: float = 60.0
    """Angle between the sides of a tip at most (working assumption)."""
    longest_pixels: int = 64
    """That a needle is followed at most: what goes on is a line on the floor (working assumption)."""
    shortest_pixels: int = 4
    """That a needle is long at least: no longer and it is blur (working assumption)."""
    half_pixels: float = 3.0
    """Half the breadth of the window across a needle (working assumption)."""
    beside_pixels: float = 8.0
    """To either side, where the same window shows how rough all is (working assumption)."""
    far_beside_pixels: float = 11.5
    """Further to either side, where it shows that once more (working assumption)."""
    least_pixels: float = 0.35
    """Of its width, that must show of a needle (working assumption)."""
    above_times: float = 3.0
    """Times as much as shows beside it that must show of it (working assumption)."""
    own_pixels: int = 3
    """From what is known to be of its kind, beyond which it shows how rough the rest is (working assumption)."""
    inward_pixels: float = 4.0
    """Within a tip, where it is seen what it is of (working assumption)."""
    thinner_share: float = 0.75
    """Of the width at its root, that a needle's last third may have (working assumption)."""
    stout_pixels: float = 1.7
    """That a needle is wide at least near its root: the outline ends where about two pixels are left, so what is
    thinner there is a line that the tip happens to touch (measured on rendered photos)."""
    base_pixels: int = 4
    """Steps from its root over which it is (working assumption)."""
    turning: float = 0.2
    """How readily its direction follows its middle (working assumption)."""
    back_pixels: int = 6
    """Steps over which its middle shows its direction (working assumption)."""
    most_off_pixels: float = 0.7
    """By which its middle may move aside from one step to the next (working assumption)."""
    aside_deg: float = 20.0
    """A needle leads no further aside from where its root points: what does is a line on the floor that the tip happens
    to touch."""
    spread_pixels: int = 1
    """By which blur lets it seem too long (working assumption)."""
    root_pixels: float = 2.0
    """By which it begins within the outline (working assumption)."""


@dataclass(frozen=True)
class TipMethod:
    """What blur takes off spikes and bays (tips.py)."""

    sharpest_deg: float = 4.0
    """Angle between the sides of a wedge at least: those of a sharper one meet too far away to tell where."""
    bluntest_deg: float = 60.0
    """The same at most (working assumption)."""
    bluntest_frayed_deg: float = 32.0
    """The same at most where noise frays the sides, whose direction shows only further from the tip then (working
    assumption)."""
    near_pixels: float = 4.0
    """From the tip along the outline, from where its sides are looked at without blur (working assumption)."""
    near_blurs: float = 2.0
    """Blurs that this is further (working assumption)."""
    far_pixels: float = 14.0
    """From the tip along the outline, to where its sides are looked at without blur (working assumption)."""
    far_blurs: float = 4.0
    """Blurs that this is further (working assumption)."""
    frayed_times: float = 2.0
    """Times as far where noise frays the sides (working assumption)."""
    furthest_pixels: float = 28.0
    """By which a tip may be drawn out (working assumption)."""
    margin_pixels: float = 3.0
    """Beside a wedge, and beyond the meeting of its sides, over which blur may have spread it (working assumption)."""
    gap_share: float = 0.1
    """A wedge has ended for good where no more of its width shows than this share of what it had at the outline's end
    (working assumption)."""
    goes_on_share: float = 0.25
    """What still shows as much of that width beyond the meeting of the sides is no wedge but a line on the floor, such
    as a seam (working assumption)."""
    unseen_times: float = 1.3
    """How many times what shows of a point makes up the whole of it: its faintest end is lost (measured on rendered
    photos)."""
    point_pixels: float = 1.0
    """An end narrower than this is drawn as a point (working assumption)."""
    least_pixels: float = 1.0
    """By which a tip is drawn out at least: less is not worth the doubt (working assumption)."""
    parallel: float = 0.05
    """Sine of the angle below which two sides run side by side (working assumption)."""


@dataclass(frozen=True)
class SlitMethod:
    """Thin lines in the leather (slits.py)."""

    shallow_pixels: float = 5.0
    """From the edge, deeper than its blur, at which lines are looked for (working assumption)."""
    deep_pixels: float = 9.0
    """From the edge, at which they are looked for once more, to learn where they lead (working assumption)."""
    plain_pixels: float = 0.7
    """By which the edge may be simplified before these depths are measured from it (guards time)."""
    fewest_points: int = 80
    """Half pixels around a ring that is looked at: on a smaller one there is no leather to compare with (working
    assumption)."""
    half_pixels: float = 3.0
    """Half the breadth of the window across a line (working assumption)."""
    beside_pixels: float = 7.0
    """To either side, where the same window shows the leather (working assumption)."""
    least_pixels: float = 0.6
    """Of its width, that a line shows at least (working assumption)."""
    above_times: float = 5.0
    """Times what the leather's own roughness shows along the edge, that a line does (working assumption)."""
    kept_share: float = 0.5
    """Of that, what it must show further in (working assumption)."""
    longest_pixels: int = 400
    """That a line is followed at most (guards time)."""
    shortest_pixels: int = 8
    """That a line is long at least (working assumption)."""
    gap_pixels: int = 4
    """Over which a line may fade (working assumption)."""
    long_times: float = 3.0
    """How many times as long as wide a line is at least (working assumption)."""
    inner_long_times: float = 8.0
    """How many times as long as broad a line wholly within the leather is at least, where blots are longish too
    (working assumption)."""
    broadest_pixels: float = 20.0
    """To either side, at which it is looked at for that (working assumption)."""
    aslant_times: float = 1.2
    """How much further along the edge than into the leather a line may lead between the depths (working assumption)."""
    turning: float = 0.2
    """How readily its direction follows its middle (working assumption)."""
    back_pixels: int = 6
    """Steps over which its middle shows its direction (working assumption)."""
    most_off_pixels: float = 0.7
    """By which its middle may move aside from one step to the next (working assumption)."""
    line_tolerance_pixels: float = 0.5
    """By which a line may be simplified (working assumption)."""
    strong_share: float = 0.68
    """A slit shows at least this share of what one as unlike leather as floor or deep shadow would, blurred, whose
    width sums up to the same (measured: scars 0.5 to 0.63, slits 0.73 to 1.3)."""
    blur_pixels: float = 1.0
    """By which that one is blurred (working assumption)."""
    narrowest_pixels: float = 0.7
    """Of its width, that a slit shows at least (measured)."""
    wide_pixels: float = 3.0
    """Of leather that a slit takes (working assumption)."""
    narrow_pixels: float = 10.0
    """A hole nowhere wider than this may be the middle of a slit (working assumption)."""
    near_pixels: float = 4.0
    """How near to a line, or to such a hole, another belongs to it (working assumption)."""
    bluntest_deg: float = 60.0
    """Angle between the sides of a bay at most from whose tip a line may go on (working assumption)."""
    aside_deg: float = 45.0
    """How far aside from where the bay points a line may go on (working assumption)."""
    around_pixels: int = 5
    """Along the outline, within which the tip of the bay is sought (working assumption)."""


@dataclass(frozen=True)
class OutlineMethod:
    """From rough to fine (outline.py), and the straightened photo (straight.py)."""

    paper_rim_mm: float = 4.0
    """Around a reference, that its print and its shadow touch (working assumption)."""
    paper_step_mm: float = 20.0
    """Along its edge, from each place that is mapped into the photo to the next: a lens bends little between."""
    sampled_pixels: int = 40
    """From each pixel of the hide by which it is judged how fine the photo is to the next."""
    view_columns: int = 81
    """Of places in the photo, by which it is judged how far it shows the floor: the mapping is smooth between."""
    view_rows: int = 61
    """Of these places."""
    rough_pixels: int = 760
    """Longest side of the photo when leather is first told from floor (guards time)."""
    mend_pixels: int = 2000
    """Longest side when bays and points are put right (guards time)."""
    rough_reach_pixels: float = 1.8
    """How far, in its pixels, the first judgement may be off (working assumption)."""
    cut_times: float = 16.0
    """Around the hide, in pixels of the first judgement, that is kept for what comes after (working assumption)."""
    cut_pixels: int = 20
    """Of the picture's own, that are kept further (working assumption)."""
    told_slit_pixels: float = 15.0
    """How near to a slit a pixel is that tells of it (working assumption)."""
    mark_pixels: float = 5.0
    """Half the breadth of a mark, which may look like floor (working assumption)."""
    rim_pixels: float = 20.0
    """From its rim, at which a hole is named, so that both can be seen there (working assumption)."""
    dot_pixels: float = 3.0
    """Around a place that was told to be leather, or floor (working assumption)."""
    furthest_times: float = 5.0
    """A photo is used as far as a pixel covers so many times the mm of one at the reference (working assumption)."""
    straight_pixels: int = 2000
    """Longest side of the straightened photo (guards memory)."""
    margin_share: float = 0.06
    """Of what the straightened photo must show, that it shows around that (working assumption)."""
    straight_step: int = 8
    """Pixels from one place of it that is worked out to the next: the mapping is smooth between."""
    untold_thickness_mm: float = 1.5
    """Of leather of which nobody said how thick it is, by which its top may be nearer to the camera than the sheets: an
    error of its outline, and stated (working assumption: leather for small goods has 1 to 2.4)."""
    error_cell_mm: float = 200.0
    """From each place at which the error of an outline is stated to the next: it changes slowly."""
    most_error_mm: float = 1000.0
    """Of what is stated: more is nothing."""
    sheet_filled_share: float = 0.98
    """Of its smallest rectangle, that a sheet of paper fills at least (working assumption)."""
    sheet_off_share: float = 0.02
    """By which the sides of one may be off (working assumption)."""
    sheet_off_mm: float = 2.0
    """By which they may be off further (working assumption)."""
    ring_places: int = 120
    """Along an outline, by which it is judged how far its shape may be off (guards time)."""


@dataclass(frozen=True)
class DoubtMethod:
    """Where an outline may be wrong (doubt.py)."""

    reach_mm: float = 40.0
    """To either side of the outline, that is judged anew (working assumption)."""
    rim_pixels: float = 3.0
    """From the outline, within which all is its blur (working assumption)."""
    step: int = 3
    """One pixel in so many each way, from which leather and floor are learnt anew (guards time)."""
    smooth_pixels: float = 1.0
    """Standard deviation of the smoothing of the judgement (working assumption)."""
    faint: float = 0.35
    """What looks as much as this like the other side and begins at the outline is followed from there (working
    assumption)."""
    least_depth_pixels: float = 5.0
    """Nearer than this it is the blur of the outline itself (working assumption)."""
    faintest_quantile: float = 0.1
    """Of the outline, whose contrast counts (working assumption)."""
    edge_pixels: float = 1.5
    """From the outline, to which contrast is its own (working assumption)."""
    necks_pixels: tuple[float, ...] = (6.0, 4.0, 9.0)
    """What hangs on the outline by less than this may be a leaf or a crumb beside it; sought with each in turn
    (measured on rendered photos)."""
    least_lump_pixels2: float = 4.5
    """Square pixels that it has at least, half a neck within its edge: the ragged end of a spike has less (measured
    likewise)."""
    stouter_times: float = 1.35
    """How many times as wide as its neck it is at least: a slit about as wide all along is none (measured likewise)."""
    lump_tolerance_pixels: float = 0.1
    """By which the outline is simplified before (guards time)."""
    grown_pixels: int = 3
    """Around what is in doubt, that belongs to it: its own blur (working assumption)."""
    in_doubt_share: float = 0.5
    """Of what a strict trace puts up with: what is more is in doubt (working assumption)."""
    least_hole_mm: float = 2.0
    """Diameter of the smallest hole that is in doubt where it is too small to be traced as one (working assumption)."""
    under_mm: float = 12.0
    """Around a reference that touches leather, within which the outline is in doubt (working assumption)."""
    endless_share: float = 0.95
    """Of how far is judged, to which what looks like leather reaches that goes on from there (working assumption)."""
    endless_area_share: float = 0.0015
    """Of the hide, that it covers within what is judged, or it is a line (working assumption)."""
    lost_deep_pixels: float = 4.0
    """From the edge, that a hole lies at least which was seen from afar and could not be drawn: nearer it is the edge's
    own blur (working assumption)."""
    clear_contrast: float = 18.0
    """Distance of leather to floor, as for ``least_contrast``, below which an outline wavers by more than its own
    raggedness, in proportion (measured with tests/benchmarks/ordinary.py)."""
    same_share: float = 0.5
    """Of the smaller of two doubts, that lies in the other where they are one (working assumption)."""
    plain_pixels: float = 0.5
    """By which what is in doubt may be simplified."""
    stray_mm2: float = 5.0
    """Area of the smallest spot that is in doubt where much looks like the other side: 2.5 mm wide."""
    beside_slit_mm: float = 1.5
    """To either side of what may be a slit, that is in doubt too (working assumption)."""
    faint_levels: tuple[float, ...] = (1.0, 0.75, 0.5, 0.35, 0.25, 0.15, 0.1)
    """Of the least contrast: around places fainter than each the outline is in doubt, further the fainter they are."""
    faint_mm: float = 4.0
    """From an outline just as faint as is put up with, within which it is in doubt, mm (measured with
    tests/benchmarks/ordinary.py)."""
    faint_tile_mm: float = 150.0
    """Side of the squares in which faint stretches are told one by one (working assumption)."""
    faint_gap_pixels: int = 3
    """Over which a stretch of faint outline goes on (working assumption)."""
    faint_long_mm: float = 8.0
    """Shorter stretches are the noise of the judgement (working assumption)."""


@dataclass(frozen=True)
class FlawMethod:
    """Marks that may be flaws (flaws.py). Those without a reason are working assumptions."""

    edge_mm: float = 6.0
    """Nothing is suggested so near to the outline, where floor shows through blur."""
    margin_mm: float = 1.0
    """Around a mark, that belongs to it."""
    sure_times: float = 4.0
    """Times as unlike leather as a mark must be, as which one counts that somebody told of."""
    fewest_pixels: int = 400
    """Of leather to be looked at."""
    smooth_pixels: float = 1.3
    """Standard deviation of the smoothing of colours."""
    least_spread: float = 0.6
    """Added to the leather's own spread in L*, a* and b*: a picture's rounding."""
    most_marks: int = 400
    """That are looked at, the largest first (guards time)."""
    around_pixels: int = 5
    """Around a mark, that is looked at with it."""
    steep_share: float = 0.6
    """Of how unlike it must be, that shows as a step across its edge: gleams and shadows fade slowly."""
    step: int = 6
    """Pixels each way that become one where the leather around is seen (guards time)."""
    window: int = 19
    """Of these each way, whose median marks do not sway: some 5 cm."""
    sure_share: float = 0.98
    """Of such a cell, that is leather."""
    simplified_mm: float = 0.4
    """By which the outline of a mark may be simplified."""
    long_times: float = 4.0
    """How many times as long as wide a scar or a fold is at least."""
    fold_mm: float = 60.0
    """Length from which a dark one is called a fold or crease."""
    large_mm2: float = 300.0
    """Area from which a dark mark is called a brand or stain."""
    most_confidence: float = 0.95
    """Nothing seen in a photo alone is surer."""


@dataclass(frozen=True)
class PieceMethod:
    """Straight stretches and arcs of what is drawn with ruler and compasses (pieces.py). Those without a reason are
    working assumptions, looked over with tests/benchmarks/cameras.py."""

    least_sigma_mm: float = 0.07
    """Card is not cut truer than this, so no closer fit is worth a further piece."""
    step_mm: float = 0.15
    """Between points that are fitted to."""
    fewest_points: int = 64
    """On a closed line, however short."""
    most_points: int = 10_000
    """On one, however long (guards time)."""
    apart_mm: float = 1.0
    """Points nearer than this are off together: six pixels of an ordinary photo, as far as blur and smoothing reach."""
    most_trim_share: float = 0.02
    """Of a closed line at most is left out of account at a corner."""
    trim_share: int = 4
    """Of a piece at most one part in so many is left out at each of its ends."""
    circle_spreads: float = 1.5
    """Standard deviations by which points may miss a circle, root mean square."""
    circle_share: float = 0.002
    """And this share of its radius."""
    circle_rounds: int = 6
    """Turns of fitting one; it gains nothing after."""
    plain_spreads: float = 1.5
    """Standard deviations by which the plainer line, at whose corners pieces may meet, may leave the points."""
    most_corners: int = 260
    """Of that line (guards time, which grows with their square)."""
    straight_cost: float = 16.0
    """Squared standard deviations that a straight stretch has to save: two values and where it ends, at some 1.5 times
    the logarithm of a hundred points."""
    arc_cost: float = 5.0
    """And so much more an arc, which has one more, if it is long."""
    rounding_mm: float = 8.0
    """One so long costs the same, and a shorter one less, for such are rounded corners more often than bevels."""
    fewest_on_arc: int = 6
    """Points; fewer fit any arc."""
    least_radius_mm: float = 0.5
    """Of an arc: a tighter one is a corner blurred."""
    most_bulge: float = 1.3
    """Of an arc that is fitted as one: 210 degrees."""
    rounds: int = 3
    """Turns of telling points which piece they belong to."""
    steps: int = 12
    """Gauss-Newton steps in each."""
    outlying_spreads: float = 3.0
    """Standard deviations from which a point counts for less."""
    held: float = 1.0
    """By which values are held where they are: what no point tells of stays."""
    longest_step: float = 2.0
    """Mm, or tangents of a quarter turn, in one step."""
    settled: float = 1e-5
    """Steps as short as this end the fit."""
    wildest_bulge: float = 20.0
    """Beyond this a fit has gone astray."""
    farthest_mm: float = 3.0
    """Or where pieces meet so far from every point."""
    smooth_deg: float = 15.0
    """Pieces that meet at a smaller angle, one of them an arc, go on in one direction."""
    turn_deg: float = 0.2
    """By about so much they may still turn there."""
    least_rise_mm: float = 0.08
    """An arc that rises less is straight."""
    window_points: int = 60
    """To each side, where the point nearest to a node is looked for."""


@dataclass(frozen=True)
class CardMethod:
    """Patterns of card on a plain ground (cards.py). Those without a reason are working assumptions, looked over with
    tests/benchmarks/cameras.py."""

    most_thick_mm: float = 20.0
    """Of a pattern."""
    untold_mm: float = 1.0
    """How thick a pattern is of which nobody said it: between paper and stiff card."""
    thin_mm: float = 0.1
    """Which is as thin as this."""
    thick_mm: float = 2.0
    """Or as thick as this."""
    largest_sheet: float = 0.45
    """Share of the photo that a sheet beside small patterns may cover."""
    rough_pixels: int = 1600
    """Length of the photo in which patterns are looked for."""
    rough_reach_pixels: float = 2.5
    """Of that photo, within which their edges are known."""
    frame_share: float = 0.03
    """Of the shorter side of the photo, along its edge, that shows ground."""
    rare_share: float = 0.08
    """Of these, that a colour of the ground has at least: what is rarer may be a pattern that reaches there."""
    fewest_ground: int = 500
    """Pixels there, from which it is learnt."""
    smooth_pixels: float = 1.2
    """Standard deviation of the smoothing of colours."""
    shading: float = 0.06
    """Share by which light and shadow may still change the ground, after the light was evened out."""
    levels_each: float = 6.0
    """Grey levels that one standard deviation from the ground's colours becomes, where a threshold is looked for."""
    usual_quantile: float = 0.9
    """Of the ground is no stranger than usual."""
    unusual_times: float = 2.3
    """And so many times as strange is no ground."""
    speck_pixels: int = 1
    """Radius of what is dirt."""
    least_mm2: float = 150.0
    """Smaller things are no patterns."""
    most_parts: int = 40
    """Read off one photo (guards time)."""
    margin_pixels: int = 24
    """Around a pattern, in which ground is learnt."""
    least_hole_pixels: float = 3.0
    """Diameter of a hole that shows as one."""
    sigma_pixels: float = 0.3
    """How far an edge may be misplaced, one standard deviation."""
    least_contrast: float = 3.0
    """Standard deviations by which card and ground differ at least along half of an edge."""
    chord_mm: float = 0.02
    """By which chords may leave curves."""
    turn_pixels: int = 8
    """Over which the direction of an edge is taken."""
    edge_pixels: int = 4
    """Beside an outline in which no hole is looked for."""
    hole_smooth_pixels: float = 0.8
    """Standard deviation of the smoothing in which holes are looked for."""
    fewest_hole_pixels: int = 4
    """Of a hole; fewer are noise."""
    hole_rim_pixels: int = 4
    """Around a hole that its blur reaches."""
    small_mm: float = 4.0
    """Smaller holes are round, and told by how much of the ground shows through them."""
    faint: float = 0.15
    """Share of the way to the ground that a hole of a row shows at its deepest; noise shows less."""
    deep: float = 0.6
    """And a single one; dirt shows less."""
    oblong: float = 1.7
    """How many times as long as wide a small round hole may show."""
    least_hole_mm: float = 0.6
    """Diameter; what is smaller is dirt."""
    radius_rounds: int = 30
    """Halvings until a radius is found."""
    round_share: float = 0.02
    """Of its radius, by which a larger round hole may miss a circle, root mean square."""
    round_mm: float = 0.1
    """And so much more."""
    sheet_filled: float = 0.98
    """Of the box around it that a sheet of paper fills."""
    sheet_off_mm: float = 2.0
    """And how far its sides may be from what they should be."""
    most_percent: float = 2.0
    """By which lengths may be off: a pocket of 100 mm by 2 mm fits nothing any more."""
    most_error_mm: float = 4.0
    """And outlines: more is as good as no pattern."""
    wide_wall_mm: float = 0.35
    """From which the wall of the card shows so wide that it is said: what fits by half a mm no longer does."""
    other_share: float = 0.1
    """By which marker sheets come out too large or small by another sheet that is none: no printer scales so much."""
    alike_share: float = 0.005
    """And by which, besides the doubt of that, they may before it is said: card is cut and sheets are printed so."""
    off_pixels: float = 1.0
    """By which an edge may be off in uneven light and shadow (measured with tests/benchmarks/cameras.py)."""
    hole_pixels: float = 4.5
    """Wide is the narrowest hole that surely shows."""
    narrow_mm: float = 1.0
    """As wide are the narrowest holes that matter."""
    ring_places: int = 300
    """Along an outline, by which is judged how far it may be off (guards time)."""
    many: int = 60
    """Pieces from which an outline is ragged."""
    apart_mm: float = 10.0
    """Between parts laid in a row."""
    straight_share: float = 0.08
    """Of an outline that a straight side is long at least by which it is turned square."""
    view_mm: float = 15.0
    """Around what is shown."""


@dataclass(frozen=True)
class ShadowMethod:
    """Card in its own shadow (shadows.py). Those without a reason are working assumptions, looked over with
    tests/benchmarks/cameras.py."""

    deep_pixels: float = 14.0
    """So far into what was taken for card its true edge may lie."""
    beyond_pixels: float = 8.0
    """And so far beyond it the ground is looked at."""
    step_pixels: float = 0.5
    """At places so far apart."""
    along_pixels: int = 9
    """To either side along the edge that is looked at with a place."""
    card_pixels: float = 11.0
    """Deeper than this is card."""
    least_contrast: float = 12.0
    """Of L*, by which the ground is brighter: shadow on a darker one looks no more like card."""
    begun: float = 0.12
    """Share of the way from card to ground on which the card has ended."""
    blurs: float = 2.2
    """Standard deviations of blur from there, beyond which the card no longer shows."""
    lit: float = 0.8
    """Share of that way from which what lies beside the card is in no shadow."""


@dataclass(frozen=True)
class RowMethod:
    """Rows of stitch holes (rows.py); working assumptions."""

    widest_mm: float = 2.6
    """A stitch hole; a hole for a rivet is wider."""
    alike_mm: float = 0.15
    """By which the radii of two of a row may differ."""
    alike_share: float = 0.2
    """And this share of the larger one."""
    linked_times: float = 1.4
    """Of the distance to its nearest neighbour, up to which a hole is the next of a row."""
    longest_mm: float = 12.0
    """Of a stitch."""
    nearest_times: float = 1.4
    """Of their diameter that holes of a row are apart at least, middle to middle: nearer ones are no stitches."""
    fewest: int = 3
    """Holes in a row."""
    most_moved_mm: float = 0.3
    """By which a hole is moved at most onto the line of its row, however little the photo shows: more would show."""
    fewest_lined: int = 4
    """Holes of a straight stretch: three lie on a line by chance."""
    fewest_on_arc: int = 6
    """And of an arc, which bends to fit fewer."""
    widest_arc_mm: float = 2000.0
    """Radius of an arc; a wider one is no surer than a line."""


@dataclass(frozen=True)
class BedMethod:
    """A panel seen on the bed (bed.py). Those without a reason are working assumptions, looked over with
    tests/benchmarks/cameras.py."""

    untold_mm: float = 2.0
    """How thick leather is of which nobody said it."""
    rim_mm: float = 2.0
    """Along the edge of the bed that is left out: stops and rails show there."""
    cut_mm: float = 3.0
    """From what is left of it, within which an outline is that of the bed."""
    sheet_mm: float = 6.0
    """Around sheets, within which it is theirs."""
    clear_share: float = 0.35
    """Of the panel's outline that lies clear of both at least."""
    least_hole_mm: float = 6.0
    """Smaller holes do not matter where only the outline is fitted."""
    rough_pixels: int = 760
    """Length of the picture in which the panel is looked for."""
    reach_pixels: float = 2.5
    """Of that picture, within which its edge is known then."""
    most_sample: int = 20_000
    """Pixels from which kinds of colours are told (guards time)."""
    kinds: int = 5
    """Of colours, each of which may be the leather's."""
    most_area_times: float = 1.6
    """By which what is taken for the panel may be larger or smaller than it is."""
    same_share: float = 0.9
    """Of their pixels that two finds share which are one."""
    most_tried: int = 3
    """Finds that are followed (guards time)."""
    parted_rounds: int = 4
    """Of learning the leather's colours from what was found."""
    heart_pixels: int = 4
    """From the edge, beyond which colours are learnt."""
    fewest_pixels: int = 300
    """From which they are."""
    rare_share: float = 0.02
    """Colours rarer than this are dirt."""
    shading: float = 0.08
    """Share by which light and shadow may change a colour."""
    telling: float = 20.0
    """Twice a log likelihood ratio beyond which a pixel says no more."""
    smooth_pixels: float = 1.5
    """Standard deviation of the smoothing of what pixels say."""
    speck_pixels: int = 3
    """Radius of what is no panel."""
    most_off_mm: float = 3.0
    """By which 95 % of the outline may be off: a knife cuts a line to a mm or two, a trace is true to about as much;
    beyond that it is another panel, or one that does not lie flat."""
    uneven_mm: float = 1.0
    """From which 95 % of the outline is far off: with corners pointed at well it is nearer (measured)."""
    uneven_times: float = 2.0
    """And so many times as far as half of it is."""
    uneven_parts_times: float = 2.5
    """So much farther than 95 % of the outline parts may be off then (measured with a corner 5 mm wrong)."""
    miss_parts_times: float = 2.0
    """And than four corners miss what a camera sees (measured likewise)."""
    click_pixels: float = 2.0
    """By which a corner is pointed at beside where it is, one standard deviation; a panel is off by about as much."""
    click_mm: float = 0.6
    """Or at least: rails and stops make no corner sharper than that."""
    sheet_lie_mm: float = 0.4
    """By which a sheet pushed into a corner lies beside it, or its marks on it, besides what the sheets tell."""
    odd_chi_square: float = 5.0
    """From which four corners are no ordinary camera's: by chance one photo in twelve comes to that."""
    corner_times: float = 4.0
    """So many times what it makes four corners miss, one of them is wrong, about (measured)."""
    most_larger: float = 0.006
    """Share by which a panel may show larger or smaller than it was traced before that is said: some damp does more."""
    most_points: int = 800
    """Of an outline that are fitted (guards time)."""
    few_points: int = 160
    """And at first."""
    model_mm: float = 1.0
    """Between points of the panel's outline."""
    turns: int = 36
    """That are tried, all round."""
    first_rounds: int = 12
    """Of laying points upon the outline, from each turn."""
    followed: int = 5
    """After which so many are followed further."""
    last_rounds: int = 24
    """For so many rounds."""
    own_mm: float = 0.6
    """From the hide's edge, within which a panel's edge is that: a trace is simplified by half a mm."""
    cut_weight: float = 0.3
    """Where a knife has cut, an outline counts so much less: it is cut to a mm or so, askew too."""
    most_cut: float = 0.92
    """Unless so much of it is cut that the rest tells too little."""
    same_deg: float = 8.0
    """Ways of lying nearer to each other are one."""
    least_spread_mm: float = 0.4
    """Points no farther off count in full: the noise of an outline."""
    far_mm: float = 5.0
    """And those farther off say no more: they are of something else."""
    clearly_better: float = 0.6
    """Times the misses of another way of lying, one is clearly the better."""
    alike_mm: float = 0.3
    """And one that misses by so much more at most is hardly worse."""
    as_card_deg: float = 50.0
    """From how the card lays it, a panel still lies about so."""
    sheet_near_mm: float = 40.0
    """Of a corner of the bed, within which a sheet was meant to lie in it."""
    most_corner_mm: float = 2.5
    """By which sheets and bed may disagree: beyond that a sheet is not in its corner, or the bed of another size."""


@dataclass(frozen=True)
class TraceMethod:
    """The numbers of the method, step by step: all belong together, so none is for a caller to change."""

    photo: PhotoMethod = PhotoMethod()
    scale: ScaleMethod = ScaleMethod()
    camera: CameraMethod = CameraMethod()
    references: ReferenceMethod = ReferenceMethod()
    quads: QuadMethod = QuadMethod()
    colours: ColourMethod = ColourMethod()
    leather: LeatherMethod = LeatherMethod()
    mend: MendMethod = MendMethod()
    sides: SideMethod = SideMethod()
    edge: EdgeMethod = EdgeMethod()
    curve: CurveMethod = CurveMethod()
    needles: NeedleMethod = NeedleMethod()
    tips: TipMethod = TipMethod()
    slits: SlitMethod = SlitMethod()
    outline: OutlineMethod = OutlineMethod()
    doubt: DoubtMethod = DoubtMethod()
    flaws: FlawMethod = FlawMethod()
    pieces: PieceMethod = PieceMethod()
    cards: CardMethod = CardMethod()
    shadows: ShadowMethod = ShadowMethod()
    rows: RowMethod = RowMethod()
    bed: BedMethod = BedMethod()


METHOD = TraceMethod()
