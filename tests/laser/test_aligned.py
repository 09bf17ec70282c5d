"""Files to burn written anew for a panel that lies otherwise than its card lays it."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from laser_samples import hide, layout_of, placement, rich_part
from shapely.geometry import box

from nesting.errors import FileError
from nesting.laser.export import export, export_aligned, panel_of
from nesting.laser.limits import DEFAULT
from nesting.laser.registration import BedPose
from nesting.model import Machine, Setting
from nesting.referee.burning import prove_files
from nesting.referee.cut_files import read_cut_file


def made(tmp_path, **others):
    layout = layout_of([rich_part(x=60, y=60)], hides=[hide(outline=box(0, 0, 300, 200))], **others)
    export(layout, tmp_path)
    return layout, tmp_path / "h1-panel-1.svg"


def pose(angle, x, y):
    return BedPose(angle, x, y, (600, 400), "as its photo shows it")


@settings(max_examples=8, deadline=None)
@given(st.floats(-20, 20), st.floats(60, 120), st.floats(100, 150))
def test_every_line_lies_where_the_panel_carries_it(tmp_path_factory, angle, x, y):
    layout, file = made(tmp_path_factory.mktemp("cut"))
    (new,) = export_aligned(layout, panel_of(layout, file), pose(angle, x, y), file)
    before, after = read_cut_file(file), read_cut_file(new)
    assert after.pose == pytest.approx((angle, x, y), abs=1e-5) and len(after.lines) == len(before.lines)

    def on_hide(found):
        turn, right, up = np.radians(found.pose[0]), *found.pose[1:]
        back = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
        return sorted((np.concatenate([line.points for line in found.lines]) - (right, up)) @ back, key=tuple)

    low, high = (np.array(on_hide(found)) for found in (before, after))
    assert low.min(axis=0) == pytest.approx(high.min(axis=0), abs=0.01)
    assert low.max(axis=0) == pytest.approx(high.max(axis=0), abs=0.01)


def test_the_file_of_the_layout_stays_and_is_still_proved(tmp_path):
    layout, file = made(tmp_path)
    before = file.read_bytes()
    (new,) = export_aligned(layout, panel_of(layout, file), pose(3, 100, 100), file)
    assert new.name == "h1-panel-1-aligned.svg" and file.read_bytes() == before
    assert not prove_files(layout, tmp_path)


@pytest.mark.parametrize("kind", ["svg", "dxf"])
def test_a_panel_laid_by_a_frame_is_moved_from_where_the_frame_lays_it(tmp_path, kind):
    layout, _ = made(tmp_path)
    plain = panel_of(layout, tmp_path / "h1-panel-1.svg").pose
    export(layout, tmp_path, frame=True, kind=kind)
    framed = panel_of(layout, tmp_path / f"h1-panel-1.{kind}").pose
    border = DEFAULT.border_mm
    assert (framed.x_mm - plain.x_mm, framed.y_mm - plain.y_mm) == pytest.approx((border, border), abs=1e-4)
    assert framed.angle_deg == pytest.approx(plain.angle_deg, abs=1e-6)


def test_a_drawing_for_other_machines_is_aligned_too(tmp_path):
    layout, _ = made(tmp_path)
    export(layout, tmp_path, kind="dxf")
    file = tmp_path / "h1-panel-1.dxf"
    (new,) = export_aligned(layout, panel_of(layout, file), pose(3, 100, 100), file)
    assert new.suffix == ".dxf" and read_cut_file(new).pose == pytest.approx((3, 100, 100))


def test_what_would_leave_the_bed_is_refused_and_nothing_is_written(tmp_path):
    layout, file = made(tmp_path)
    with pytest.raises(
        FileError, match=r"lines would run off the bed by \d.* mm at the .*: the bed is .* mm: lay it as its card shows"
    ):
        export_aligned(layout, panel_of(layout, file), pose(0, 500, 0), file)
    assert not list(tmp_path.glob("*-aligned*"))


def test_all_runs_of_a_panel_are_aligned_together(tmp_path):
    second = Setting("2 mm", 1.5, 8, 70, 2, 1.3, 1.7)
    parts = [placement(x=60, y=60), placement(2, x=160, y=60, setting="2 mm")]
    layout = replace(layout_of(parts, hides=[hide(outline=box(0, 0, 300, 200))]), more_settings={"h1": (second,)})
    files = [path for path in export(layout, tmp_path).files if "panel" in path.name]
    new = export_aligned(layout, panel_of(layout, files[0]), pose(0, 100, 100), files[0])
    assert len(new) == len(files) == 2


def test_a_panel_that_is_fed_through_is_refused_with_the_marks_to_measure(tmp_path):
    machine = Machine("fed", 300, 300, 40, feed_through="width")
    parts = [placement(at, x=20 + 90 * (at - 1), y=40) for at in range(1, 6)]
    whole = hide(outline=box(0, 0, 520, 200))
    layout = layout_of(parts, hides=[whole], machine=machine)
    export(layout, tmp_path)
    file = next(tmp_path.glob("*-stage-1-of-*[0-9].svg"))
    with pytest.raises(FileError, match=r"fed through the bed: measure its marks instead.*S1=x,y T1=x,y"):
        panel_of(layout, file)


def test_a_file_of_no_panel_is_refused_with_those_there_are(tmp_path):
    layout, _ = made(tmp_path)
    with pytest.raises(FileError, match="is none of this layout: give one of h1-panel-1"):
        panel_of(layout, tmp_path / "h9-panel-4.svg")
