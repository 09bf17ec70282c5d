from dataclasses import replace

from laser_samples import DEEP, SETTING, layout_of, placement
from shapely.geometry import LineString, box

from nesting.laser.load import bed_loads, hide_changeovers
from nesting.laser.runs import changeovers, runs

THICK = replace(SETTING, name="thick", speed_mm_s=8)
LINE = [LineString([(2, 2), (8, 2)])]


def frame(number, x, **others):
    """A part whose cutout holds another."""
    return placement(number, x=x, outline=box(0, 0, 100, 100), cutouts=[box(10, 10, 90, 90)], **others)


def tile(number, x, y=120.0, **others):
    return placement(number, x=x, y=y, outline=box(0, 0, 20, 20), **others)


def order(parts, engravings=(), last=None):
    def setting_of(part):
        return THICK if part.setting == "thick" else SETTING

    found = runs(parts, setting_of, lambda setting: engravings[setting.name] if engravings else None, last)
    return [
        (run.setting.name, [part.piece for part in run.cut], [part.piece for part in run.engraved]) for run in found
    ]


def test_two_settings_take_one_change_over_whatever_the_order_of_the_parts():
    parts = [tile(1, 0), tile(2, 30, setting="thick"), tile(3, 60), tile(4, 90, setting="thick")]
    assert order(parts) == [("1.5 mm", [1, 3], []), ("thick", [2, 4], [])]


def test_the_setting_the_machine_is_at_comes_first():
    parts = [tile(1, 0), tile(2, 30, setting="thick")]
    assert [name for name, *_ in order(parts, last=THICK)] == ["thick", "1.5 mm"]


def test_parts_in_each_others_cutouts_take_the_fewest_runs_that_keep_inner_before_outer():
    # By hand: 2 (thick) lies in 1 (thin), 4 (thin) in 3 (thick). Neither setting can come all at once: thin first cuts
    # 4 alone besides 5, then thick cuts 2 and 3, then thin cuts 1. Three runs, two change-overs; two runs cannot be.
    parts = [
        frame(1, 0),
        tile(2, 40, 60, setting="thick"),
        frame(3, 200, setting="thick"),
        tile(4, 240, 60),
        tile(5, 400),
    ]
    assert order(parts) == [("1.5 mm", [4, 5], []), ("thick", [2, 3], []), ("1.5 mm", [1], [])]


def test_engraving_that_is_alike_is_done_once_before_the_first_cut():
    # By hand: engrave 1 and 2, cut thin, cut thick: two change-overs. Setting by setting it would be engrave, thin,
    # engrave, thick: three.
    parts = [tile(1, 0, engrave=LINE), tile(2, 30, setting="thick", engrave=LINE), tile(3, 60)]
    assert order(parts, {"1.5 mm": DEEP, "thick": DEEP}) == [("1.5 mm", [1, 3], [1, 2]), ("thick", [2], [])]
    other = replace(DEEP, name="deeper")
    assert order(parts, {"1.5 mm": DEEP, "thick": other}) == [("1.5 mm", [1, 3], [1]), ("thick", [2], [2])]


def test_loads_follow_the_runs_and_their_change_overs_are_counted():
    row = replace(DEEP, operation="engrave shallow")
    parts = [tile(1, 0, engrave=LINE), tile(2, 30, setting="thick", engrave=LINE), tile(3, 60)]
    layout = replace(layout_of(parts, engravings=(row,)), more_settings={"h1": (THICK,)})
    first, second = bed_loads(layout, "h1")
    assert [line.placement.piece for line in first.lines if line.operation == "engrave"] == [1, 2]
    assert {line.operation for line in second.lines} == {"outline"}
    assert [part.piece for part in first.placements] == [1, 3] and [part.piece for part in second.placements] == [2]
    assert "1 part(s) engraved here are cut in a later run" in first.warnings[0]
    assert changeovers([*first.settings, *second.settings]) == 2 == hide_changeovers(layout, "h1")
