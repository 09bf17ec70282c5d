import json
import re
import shutil
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image
from shapely.geometry import Polygon, box
from typer.testing import CliRunner

from nesting import tracing
from nesting.app.actions.hides import _answered
from nesting.app.cli import app
from nesting.app.terminal.hides import say_doubts
from nesting.errors import FileError
from nesting.files.hides import read_hide, write_hide
from nesting.model import Doubt, Hide, Suggestion, Zone
from nesting.tracing.doubt import Judgement
from nesting.tracing.tracer import Question

MARKS = (Suggestion(box(50, 50, 80, 70), "C", "scar", 0.8), Suggestion(box(200, 50, 280, 90), "D", "brand", 0.6))


@pytest.fixture
def file(tmp_path):
    write_hide(tmp_path / "h.json", Hide("h", box(0, 0, 500, 400), suggestions=MARKS))
    return tmp_path / "h.json"


def run(*words):
    result = CliRunner().invoke(app, [str(word) for word in words])
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def test_a_hide_is_drawn_and_read_back_unchanged(file):
    before = file.read_text()
    run("hide", "to-svg", file)
    run("hide", "from-svg", file.with_suffix(".svg"))
    assert json.loads(file.read_text())["suggestions"] == json.loads(before)["suggestions"]
    assert read_hide(file).outline.equals_exact(box(0, 0, 500, 400), 1e-3, normalize=True)


def test_one_suggestion_is_accepted_by_its_number(file):
    run("hide", "accept", file, 2)
    hide = read_hide(file)
    assert [zone.kind for zone in hide.zones] == ["brand"] and [one.kind for one in hide.suggestions] == ["scar"]


def test_all_suggestions_are_accepted_or_dropped(file):
    run("hide", "accept", file, 1, "--drop")
    assert read_hide(file).zones == () and len(read_hide(file).suggestions) == 1
    run("hide", "accept", file)
    assert len(read_hide(file).zones) == 1 and read_hide(file).suggestions == ()


def test_what_is_left_is_told_by_its_old_number_and_its_new(file):
    said = run("hide", "accept", file, 1).output
    assert (
        f"they are counted anew, the check picture shows the old numbers: 1 was 2: {MARKS[1].kind} {MARKS[1].grade}"
        in " ".join(said.split())
    )
    assert "anew" not in run("hide", "accept", file, 1).output


@pytest.mark.parametrize(
    "words",
    [
        ("trace", "{folder}/a.jpg", "-o", "{folder}/a.jpg"),
        ("trace", "{folder}/a.jpg", "-o", "."),
        ("trace", "{folder}/a.jpg", "-o", "{folder}/sub/"),
        ("camera", "{folder}/a.jpg", "-o", "{folder}/a.jpg"),
        ("hide", "to-svg", "{folder}/h.json", "-o", "{folder}/h.json"),
    ],
)
def test_no_photo_or_hide_is_written_over_by_something_else(file, tmp_path, words):
    Image.new("RGB", (40, 30), "tan").save(tmp_path / "a.jpg")
    before = {path: path.read_bytes() for path in tmp_path.iterdir()}
    with pytest.raises(FileError, match=r"output: .*: give a file whose name ends in \.(json|svg)"):
        run(*(word.format(folder=tmp_path) for word in words))
    assert {path: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_what_is_written_over_is_kept(file):
    run("hide", "to-svg", file)
    drawing, hide = file.with_suffix(".svg"), file.read_bytes()
    edited = drawing.read_text().replace("</svg>", "<!-- by hand --></svg>")
    drawing.write_text(edited)
    run("hide", "accept", file, 1)
    accepted = file.read_bytes()
    run("hide", "from-svg", drawing)
    assert file.with_name("h.json.before").read_bytes() == accepted != hide
    run("hide", "to-svg", file)
    assert file.with_name("h.svg.before").read_text() == edited


def test_a_number_that_is_not_there_is_refused_and_nothing_changes(file):
    before = file.read_text()
    with pytest.raises(FileError, match="from 1 to 2"):
        run("hide", "accept", file, 3)
    assert file.read_text() == before


def test_a_drawing_whose_hide_file_is_gone_is_refused(file):
    run("hide", "to-svg", file)
    file.unlink()
    with pytest.raises(FileError):
        run("hide", "from-svg", file.with_suffix(".svg"))


def test_a_refusal_that_names_places_shows_them_until_the_trace_succeeds(tmp_path, monkeypatch):
    photo, output = tmp_path / "hide.jpg", tmp_path / "h.json"
    Image.new("RGB", (400, 300), "tan").save(photo)

    def refuse(*_, **given):
        raise tracing.Unclear(
            photo, [Question("slit or mark?", "leather", "a line", "say what it is", ((200.0, 100.0),))], Polygon()
        )

    monkeypatch.setattr(tracing, "trace", refuse)
    with pytest.raises(FileError, match="say what it is"):
        run("trace", photo, "-o", output)
    assert (tmp_path / "h-doubt.png").exists() and not output.exists()

    square = np.array([(0.0, 0.0), (300.0, 0.0), (300.0, 200.0), (0.0, 200.0)])
    straight = np.full((240, 340, 3), 150, np.uint8)
    traced = tracing.Trace(
        Polygon(square), "a4", 1.0, 1.0, straight, (-20.0, 220.0), (box(-19, 0, -9, 20),), np.zeros((1, 4)), 0.1, None
    )
    told = {}
    monkeypatch.setattr(tracing, "trace", lambda *_, **given: told.update(given) or traced)
    run("trace", photo, "-o", output, "--correct", "200,100 30,40", "--slits", "5,6", "--stains", "7,8")
    shown = told["shown"]
    assert shown.correct == [(200, 100), (30, 40)] and shown.slits == [(5, 6)] and shown.stains == [(7, 8)]
    assert output.exists() and not (tmp_path / "h-doubt.png").exists()

    run("trace", photo, "-o", output, "--points", "1,2=3,4 5,6=7,8 9,10=11,12 13,14=15,16 17,18=19,20")
    reference = told["reference"]
    assert reference.points[0] == ((1, 2), (3, 4)) and len(reference.points) == 5 and reference.kind == "points"


def test_a_largest_error_is_accepted_in_all_it_concerns_and_noted_in_the_file(tmp_path, monkeypatch):
    photo, output = tmp_path / "hide.jpg", tmp_path / "h.json"
    Image.new("RGB", (400, 300), "tan").save(photo)

    def traced(*_, limits, **given):
        straight, sheets = np.full((240, 340, 3), 150, np.uint8), (box(-19, 0, -9, 20),)
        hide, misses = box(0, 0, 300, 200), np.zeros((1, 4))
        return tracing.Trace(hide, "a4", 1.0, 1.0, straight, (-20.0, 220.0), sheets, misses, 0.1, None, limits=limits)

    monkeypatch.setattr(tracing, "trace", traced)
    run("trace", photo, "-o", output)
    assert read_hide(output).traced.limits == {}
    run("trace", photo, "-o", output, "--largest-error", 6, "--tolerance", 2)
    limits = tracing.TraceLimits(tolerance_mm=2).accepting(6)
    assert tracing.TraceLimits(**read_hide(output).traced.limits) == limits
    for name, value, told in (("--largest-error", 1001, "largest_error_mm"), ("--tolerance", 21, "tolerance_mm")):
        with pytest.raises(FileError, match=rf"hide\.jpg: {told}: {value}.*: give more than 0 and at most"):
            run("trace", photo, "-o", output, name, value)


def test_holes_that_may_be_stains_are_named(tmp_path, monkeypatch):
    photo, hole = tmp_path / "hide.jpg", box(100, 100, 120, 110)
    Image.new("RGB", (400, 300), "tan").save(photo)
    doubt = Judgement(20.0, 0.0, unsure=((16.0, (210.4, 99.6)),))
    traced = tracing.Trace(
        box(0, 0, 300, 200).difference(hole),
        "a4",
        1.0,
        1.0,
        np.full((240, 340, 3), 150, np.uint8),
        (-20.0, 220.0),
        (),
        np.zeros((1, 4)),
        0.1,
        doubt,
        unsure=(hole,),
    )
    monkeypatch.setattr(tracing, "trace", lambda *_, **given: traced)
    said = run("trace", photo, "-o", tmp_path / "h.json", "--strict").output
    assert "1 hole(s)" in said and "1 of the holes may be only stains" in said and "--leather 210,100" in said


@pytest.fixture(scope="module")
def photo(tmp_path_factory):
    """A photo of 1 mm a pixel in which two holes may be stains."""
    picture = np.full((700, 900), 90.0)
    y, x = np.mgrid[:700, :900]
    picture[((x - 450) / 300) ** 2 + ((y - 350) / 200) ** 2 < 1] = 200
    for across, radius in ((350, 30), (550, 40)):
        picture[np.hypot(x - across, y - 350) < radius] = 90
    picture += np.random.default_rng(0).normal(0, 2, picture.shape)
    path = tmp_path_factory.mktemp("stained") / "photo.png"
    Image.fromarray(picture.clip(0, 255).astype(np.uint8)).save(path)
    return path


def to_trace(folder):
    """The words that trace the photo in a folder."""
    points = " ".join(f"{x},{y}={x},{-y}" for x, y in ((0, 0), (899, 0), (899, 699), (0, 699), (450, 10)))
    return "trace", folder / "photo.png", "-o", folder / "hide.json", "--points", points


@pytest.fixture
def stained(photo, tmp_path):
    """The words that trace the photo."""
    shutil.copy(photo, tmp_path)
    return to_trace(tmp_path)


@pytest.fixture(scope="module")
def traced(photo):
    """The folder of the photo, traced once."""
    run(*to_trace(photo.parent))
    return photo.parent


@pytest.fixture
def traced_before(traced, tmp_path):
    """The words that trace the photo again."""
    shutil.copytree(traced, tmp_path, dirs_exist_ok=True)
    return to_trace(tmp_path)


def test_doubts_are_listed_by_what_they_win_and_answered_by_number(stained, tmp_path):
    said = " ".join(run(*stained, "--leather-name", "bridle", "--lot", "7", "--price", "80").output.split())
    hide = read_hide(tmp_path / "hide.json")
    assert [(one.number, one.kind) for one in hide.doubts] == [(1, "hole or stain"), (2, "hole or stain")]
    assert "2 places are in doubt and kept out of every part; looking wins up to: 1 0.6" in said
    assert "look whether it is a hole (--correct 1) or only a stain (--leather 1)" in said
    assert re.search(r"next: look at places 1, 2, which wins up to [01]\.\d dm2", said)
    assert len(hide.outline.interiors) == 2 and hide.error is not None

    hide = _with_zone(tmp_path / "hide.json")
    run(*stained, "--leather", "1", "--correct", "2")
    answered = read_hide(tmp_path / "hide.json")
    assert answered.doubts == () and len(answered.outline.interiors) == 1
    # what else the file knew stays
    assert (answered.leather, answered.lot, str(answered.price)) == ("bridle", "7", "80")
    assert [zone.kind for zone in answered.zones] == ["scar"]
    assert {(one.number, one.answer) for one in answered.traced.answers} == {(1, "leather"), (2, "correct")}

    # the next run knows them without being told, and an answer may be taken back
    assert "in doubt" not in run(*stained, "--lot", "8").output
    assert read_hide(tmp_path / "hide.json").outline.equals(answered.outline)
    assert read_hide(tmp_path / "hide.json").lot == "8"
    run(*stained, "--correct", "1")
    assert len(read_hide(tmp_path / "hide.json").outline.interiors) == 2
    run(*stained, "--forget")
    forgotten = read_hide(tmp_path / "hide.json")
    assert len(forgotten.doubts) == 2 and (forgotten.lot, forgotten.zones, forgotten.traced.answers) == ("", (), ())


def _with_zone(path):
    hide = read_hide(path)
    hide = replace(hide, zones=(Zone(box(300, 50, 320, 60), "C", "scar"),))
    write_hide(path, hide)
    return hide


def test_numbers_stay_with_their_places(traced_before, tmp_path):
    two = read_hide(tmp_path / "hide.json").doubts[1]
    run(*traced_before, "--correct", "1")
    (left,) = read_hide(tmp_path / "hide.json").doubts
    assert (left.number, left.pixel) == (two.number, pytest.approx(two.pixel, abs=1))


def test_several_numbers_and_pixels_follow_one_option(traced_before, tmp_path):
    pixel = read_hide(tmp_path / "hide.json").doubts[1].pixel
    run(*traced_before[:1], "--correct", "1", f"{pixel[0]:.0f},{pixel[1]:.0f}", *traced_before[1:])
    assert read_hide(tmp_path / "hide.json").doubts == ()
    run(*traced_before, "--forget")
    run(*traced_before, "--correct", "1-2")
    assert read_hide(tmp_path / "hide.json").doubts == ()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--cut", "9"), r"hide\.json: --cut: 9: give numbers of its doubts \(1, 2\)"),
        (("--floor", "0"), "--floor: 0: give numbers as the check picture shows them"),
        (("--correct", "one"), "--correct: one: give numbers"),
        (("--correct", "2-1"), "--correct: 2-1: give numbers"),
        (("--correct", "1-999999999"), "--correct: 1-999999999: give numbers"),
        (("--length", "1,2 3,4"), "--length: 1,2 3,4: give two pixels and the length"),
    ],
)
def test_answers_that_cannot_be_are_refused_and_nothing_changes(traced_before, tmp_path, words, told):
    before = (tmp_path / "hide.json").read_bytes()
    with pytest.raises(FileError, match=told):
        run(*traced_before, *words)
    assert (tmp_path / "hide.json").read_bytes() == before


def test_a_number_without_a_trace_before_is_refused(stained):
    with pytest.raises(FileError, match=r"--correct: 1: trace it first, or give pixels"):
        run(*stained, "--correct", "1")


def test_a_number_is_refused_where_the_trace_has_no_doubts(tmp_path):
    with pytest.raises(FileError, match=r"--correct: 47: it has no doubts: give pixels"):
        _answered(tmp_path / "h.json", Hide("h", box(0, 0, 500, 400)), {"correct": [47]})


@pytest.mark.parametrize("size, told", [(40, "looking wins up to:"), (2, "dm2 in all: none of them is worth a look")])
def test_only_doubts_worth_a_look_are_listed(capsys, size, told):
    doubts = tuple(Doubt(box(at, 300, at + size, 300 + size), "spot", settles="look", number=at) for at in (200, 300))
    say_doubts(Hide("h", box(0, 0, 1000, 800), nominal_mm=1.5, doubts=doubts))
    said = capsys.readouterr().out
    assert "2 places are in doubt and kept out of every part" in said and told in " ".join(said.split())
    assert said.count("spot") == (2 if size == 40 else 0)


def test_suggestions_are_taken_by_ranges_and_what_is_no_number_is_named(file):
    run("hide", "accept", file, "1-2", "--drop")
    assert read_hide(file).suggestions == ()


@pytest.mark.parametrize("word", ["2-1", "x", "1-", "0", "1,2"])
def test_what_is_no_number_of_a_suggestion_is_named(file, word):
    before = file.read_bytes()
    with pytest.raises(FileError, match=f"suggestions: {word}: give numbers as the check picture shows them: 1 3-5"):
        run("hide", "accept", file, word)
    assert file.read_bytes() == before


def test_a_flaw_that_was_accepted_is_not_suggested_again(tmp_path, monkeypatch):
    photo, output = tmp_path / "hide.jpg", tmp_path / "h.json"
    Image.new("RGB", (400, 300), "tan").save(photo)
    straight, sheets = np.full((240, 340, 3), 150, np.uint8), (box(-19, 0, -9, 20),)
    traced = tracing.Trace(
        box(0, 0, 300, 200), "a4", 1.0, 1.0, straight, (-20.0, 220.0), sheets, np.zeros((1, 4)), 0.1, None
    )
    monkeypatch.setattr(tracing, "trace", lambda *_, **given: traced)
    monkeypatch.setattr(tracing, "suggest_flaws", lambda *_: MARKS)
    run("trace", photo, "-o", output)
    assert read_hide(output).suggestions == MARKS
    run("hide", "accept", output, 2)
    run("trace", photo, "-o", output)
    hide = read_hide(output)
    assert [zone.kind for zone in hide.zones] == ["brand"] and [one.kind for one in hide.suggestions] == ["scar"]
