import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from nesting.errors import ModelError
from nesting.leather.thickness import Covariance, Kriging, ThicknessMap, _cells, _within_cells, cuttable, thickness_map
from nesting.model import Hide, Reading, Setting

OUTLINE = Polygon([(0, 0), (1500, 100), (1700, 700), (1200, 1100), (300, 1000), (-100, 500)])


def truth(x, y):
    return 1.9 - 0.0005 * y + 0.12 * np.cos(x / 400) * np.sin(y / 300 + 1)


def hide_with(count, seed=0, noise=0.03, **more):
    random = np.random.default_rng(seed)
    places = random.uniform((0, 150), (1400, 950), (count, 2))
    readings = tuple(Reading(x, y, truth(x, y) + noise * random.standard_normal()) for x, y in places.tolist())
    return Hide("h", OUTLINE, readings=readings, **more)


def within(polygon, count, random):
    left, low, right, high = polygon.bounds
    places = random.uniform((left, low), (right, high), (count, 2))
    return places[shapely.contains_xy(polygon, places)]


def setting(name, thinnest, tested, thickest):
    return Setting(name, tested, 10, 50, 1, thinnest, thickest)


def test_four_readings_are_kriged_and_the_source_says_so():
    estimate = thickness_map(hide_with(4), 0.15)
    assert estimate.known and estimate.source == "map from 4 readings"


def test_fewer_than_four_readings_give_the_nominal_thickness_with_the_stated_spread():
    estimate = thickness_map(hide_with(3, nominal_mm=1.5), 0.15)
    mean, sd = estimate.mean_sd([(0, 0), (900, 500)])
    assert mean.tolist() == [1.5, 1.5] and sd.tolist() == [0.15, 0.15]
    assert estimate.source == "nominal 1.5 mm, spread 0.15 mm"


def test_without_a_nominal_the_mean_of_few_readings_is_taken():
    hide = Hide("h", OUTLINE, readings=(Reading(1, 1, 1.4), Reading(900, 500, 1.8)))
    estimate = thickness_map(hide, 0.2)
    mean, sd = estimate.mean_sd([(10, 10)])
    assert mean[0] == pytest.approx(1.6) and sd[0] == 0.2
    assert estimate.source == "mean of 2 readings 1.60 mm, spread 0.2 mm"


def test_a_hide_never_measured_nor_stated_is_not_known_and_nothing_of_it_is_cuttable():
    hide = Hide("h", OUTLINE)
    estimate = thickness_map(hide, 0.15)
    assert not estimate.known
    assert estimate.inside([(900, 500)], 0.1, 19)[0] == 0
    assert cuttable(estimate, hide, 0.1, 19, 0.5).is_empty


@pytest.mark.parametrize("count", [4, 6, 12])
def test_two_readings_at_one_point_are_averaged_not_refused(count):
    hide = hide_with(count)
    first = hide.readings[0]
    twice = Hide("h", OUTLINE, readings=(*hide.readings, Reading(first.x, first.y, first.mm + 0.1)))
    mean, sd = thickness_map(twice, 0.15).mean_sd([(first.x, first.y)])
    assert first.mm - 0.1 < mean[0] < first.mm + 0.2 and 0 < sd[0] < 0.15


def test_readings_all_at_one_point_leave_the_rest_of_the_hide_unsure():
    hide = Hide("h", OUTLINE, readings=tuple(Reading(100, 500, mm) for mm in (1.48, 1.5, 1.52, 1.5)))
    mean, sd = thickness_map(hide, 0.15).mean_sd([(100, 500), (1600, 700)])
    assert mean == pytest.approx(1.5, abs=0.01) and sd[0] < 0.03 and sd[1] > 0.05


def test_readings_in_a_line_are_kriged_without_a_slope():
    readings = tuple(Reading(100 * i, 500, 1.4 + 0.02 * i) for i in range(10))
    estimate = thickness_map(Hide("h", OUTLINE, readings=readings), 0.15)
    assert estimate.estimate.trend == "constant"
    mean, sd = estimate.mean_sd([(450, 500), (450, 1000)])
    assert mean[0] == pytest.approx(1.49, abs=0.02) and sd[1] > sd[0]


def test_a_sloping_hide_is_recovered_and_carried_on_beyond_the_readings():
    places = [(x, y) for x in (200, 700, 1200) for y in (300, 600, 800)]
    readings = tuple(Reading(x, y, 1.2 + 0.0006 * x - 0.0002 * y) for x, y in places)
    mean, sd = thickness_map(Hide("h", OUTLINE, readings=readings), 0.15).mean_sd([(700, 450), (1500, 500)])
    assert mean == pytest.approx([1.2 + 0.42 - 0.09, 1.2 + 0.9 - 0.1], abs=0.03)
    assert sd[1] > sd[0]


def test_ninety_per_cent_intervals_hold_the_true_thickness_about_as_often_as_they_claim():
    random, inside, total = np.random.default_rng(5), 0, 0
    for count in range(4, 21):
        places = within(OUTLINE, 200, random)
        mean, sd = thickness_map(hide_with(count, count), 0.15).mean_sd(places)
        inside += (np.abs(mean - truth(*places.T)) < 1.645 * sd).sum()
        total += len(places)
    assert 0.84 < inside / total < 0.99


def test_uncertainty_grows_away_from_the_readings():
    hide = hide_with(12)
    places = np.array([(reading.x, reading.y) for reading in hide.readings])
    estimate = thickness_map(hide, 0.15)
    assert estimate.mean_sd(places)[1].max() < estimate.mean_sd([(1700, 700)])[1][0]


def test_the_probability_is_that_of_a_normal_distribution():
    estimate = thickness_map(Hide("h", OUTLINE, nominal_mm=1.5), 0.1)
    assert estimate.inside([(0, 0)], 1.4, 1.6)[0] == pytest.approx(0.6826894921)
    assert estimate.inside([(0, 0)], 1.5, 9)[0] == pytest.approx(0.5)


def test_without_any_spread_the_limits_themselves_are_inside():
    estimate = thickness_map(Hide("h", OUTLINE, nominal_mm=1.5), 0.0)
    assert estimate.inside([(0, 0)], 1.5, 2.0)[0] == 1 and estimate.inside([(0, 0)], 1.51, 2.0)[0] == 0


def test_the_grid_covers_the_bounds_of_the_hide_and_agrees_with_the_map():
    estimate = thickness_map(hide_with(9), 0.15)
    xs, ys, mean, sd = estimate.grid(70)
    assert (xs[0], ys[0], xs[-1], ys[-1]) == OUTLINE.bounds and np.diff(xs).max() <= 70
    assert mean.shape == sd.shape == (len(ys), len(xs))
    one = estimate.mean_sd([(xs[3], ys[5])])
    assert (mean[5, 3], sd[5, 3]) == pytest.approx((one[0][0], one[1][0]))


@settings(max_examples=12, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    count=st.integers(4, 20),
    least=st.floats(1.2, 1.8),
    width=st.floats(0.15, 0.8),
    confidence=st.sampled_from([0.5, 0.8, 0.95]),
    step=st.sampled_from([5.0, 12.0, 25.0]),
)
def test_no_point_of_the_cuttable_region_fails(seed, count, least, width, confidence, step):
    hide = hide_with(count, seed)
    estimate = thickness_map(hide, 0.15)
    region = cuttable(estimate, hide, least, least + width, confidence, step)
    assert region.is_valid and region.difference(OUTLINE).area < 1e-6
    if not region.is_empty:
        edge = shapely.get_coordinates(shapely.segmentize(region.boundary, 3))
        places = np.vstack([within(region, 20_000, np.random.default_rng(seed)), edge])
        assert estimate.inside(places, least, least + width).min() >= confidence


def rugged_map():
    """Thickness that changes within a few cells, as no real hide does."""
    random = np.random.default_rng(3)
    covariance = Covariance(0.2, 60.0, 0.02)
    kriging = Kriging(random.uniform((0, 0), (600, 400), (40, 2)), random.uniform(1, 2, 40), covariance, "constant")
    return ThicknessMap((0, 0, 600, 400), "invented", kriging)


@pytest.mark.parametrize("step", [3.0, 8.0])
def test_the_cuttable_region_stays_safe_where_thickness_changes_within_a_few_cells(step):
    hide, estimate = Hide("h", box(0, 0, 600, 400)), rugged_map()
    region = cuttable(estimate, hide, 1.2, 1.8, 0.8, step)
    edge = shapely.get_coordinates(shapely.segmentize(region.boundary, 1))
    places = np.vstack([within(region, 100_000, np.random.default_rng(4)), edge])
    assert region.area > 1000 and estimate.inside(places, 1.2, 1.8).min() >= 0.8


@pytest.mark.parametrize("step", [3.0, 8.0, 15.0])
def test_mean_and_deviation_keep_to_the_bounds_of_their_cell(step):
    estimate = rugged_map()
    cells = _cells(estimate, estimate.bounds, step)
    places = np.random.default_rng(4).uniform((0, 0), (600, 400), (100_000, 2))
    column, row = (np.searchsorted(edges, place) - 1 for edges, place in zip((cells.xs, cells.ys), places.T))
    mean, sd = estimate.mean_sd(places)
    assert (cells.thinnest[row, column] <= mean).all() and (mean <= cells.thickest[row, column]).all()
    assert (sd <= cells.sd[row, column]).all()


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000), share=st.floats(0.5, 0.99))
def test_the_smooth_edge_lies_within_the_passing_cells(seed, share):
    random = np.random.default_rng(seed)
    coarse = np.kron(random.random((6, 8)) < share, np.ones((5, 5), bool))
    passes = coarse & (random.random(coarse.shape) < 0.997)
    region = _within_cells(passes, 5.0 * np.arange(41), 5.0 * np.arange(31))
    if not region.is_empty:
        x, y = shapely.get_coordinates(shapely.segmentize(region.boundary, 0.5)).T
        assert passes[(y // 5).astype(int), (x // 5).astype(int)].all()


def test_little_of_what_passes_is_given_away():
    hide = hide_with(14)
    estimate = thickness_map(hide, 0.15)
    places = within(OUTLINE, 50_000, np.random.default_rng(1))
    passing = (estimate.inside(places, 1.5, 1.9) >= 0.9).mean()
    assert 0.2 < passing < 0.9
    assert passing - 0.04 < cuttable(estimate, hide, 1.5, 1.9, 0.9).area / OUTLINE.area <= passing + 0.005


def test_a_hide_that_passes_everywhere_is_cuttable_up_to_its_own_outline():
    hide = Hide("h", OUTLINE.difference(box(400, 400, 500, 500)), nominal_mm=1.5)
    estimate = thickness_map(hide, 0.1)
    assert cuttable(estimate, hide, 1.2, 1.8, 0.99).equals(hide.outline)
    assert cuttable(estimate, hide, 1.4, 1.6, 0.7).is_empty


@pytest.mark.parametrize("confidence", [0.49, 1.0, float("nan")])
def test_a_confidence_that_cannot_be_kept_is_refused(confidence):
    hide = Hide("h", OUTLINE, nominal_mm=1.5)
    with pytest.raises(ModelError, match="confidence"):
        cuttable(thickness_map(hide, 0.1), hide, 1, 2, confidence)


def test_a_negative_spread_is_refused():
    with pytest.raises(ModelError, match="spread_mm"):
        thickness_map(Hide("h", OUTLINE, nominal_mm=1.5), -0.1)


def test_a_reading_without_a_finite_place_is_refused():
    with pytest.raises(ModelError, match="finite"):
        Reading(float("nan"), 0, 1.5)


def test_more_readings_than_anyone_takes_are_refused():
    with pytest.raises(ModelError, match="at most 500"):
        thickness_map(Hide("h", OUTLINE, readings=(Reading(1, 2, 1.5),) * 501), 0.1)
