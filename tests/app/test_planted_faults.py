"""Faults put into a layout file as an editor or another program would, each found first by the rule that it breaks."""

import copy
import json

import pytest
from commands import run
from planted import planned, said, say

from nesting.app.actions.job import check_file
from nesting.errors import FileError


@pytest.fixture(scope="module")
def week(tmp_path_factory):
    return planned(tmp_path_factory.mktemp("planted") / "week")


@pytest.fixture(scope="module")
def sound(week):
    return said(week)


def part(data, order="1", name="fob", piece=1, **more):
    """A placement in a layout file."""
    facts = {"order": order, "part": name, "piece": piece} | more
    return next(one for one in data["placements"] if all(one[key] == value for key, value in facts.items()))


def left(data, order):
    return next(one for one in data["unplaced"] if one["order"] == order)


def put(thing, **values):
    thing.update(values)


def because(data, order, reason):
    left(data, order)["reason"] = reason


def moved(data, by, **which):
    """A part moved with all its lines, so that only where it lies is wrong."""
    one = part(data, **which)
    one["x"], one["y"] = one["x"] + by[0], one["y"] + by[1]

    def shifted(points):
        return [[x + by[0], y + by[1]] for x, y in points]

    one["outline"] = shifted(one["outline"])
    # stitch holes go with the drawing where a part has one
    for name in {"cutouts", "stitch", "engrave"} & one.keys():
        one[name] = [*map(shifted, one[name])]


def swap(one, other, *names):
    for name in names:
        one[name], other[name] = other[name], one[name]


def both_kerfs(data, kerf_mm):
    data["margins"]["kerf_mm"] = data["workshop"]["margins"]["kerf_mm"] = kerf_mm


def no_burnt_part(data):
    panel = data["panels"][0]
    data["burnt"] = [panel | {"parts": []}]


def both_settings(data, **values):
    for row in (data["settings"]["bend"], data["settings"]["belly"], data["workshop"]["setting"][0]):
        row.update(values)


def hide(data, name):
    return next(one for one in data["hides"] if one["id"] == name)


def one_lost(data):
    data["lost"] = [copy.deepcopy(part(data, "3", "front"))]
    moved(data | {"placements": data["lost"]}, (100, 20), order="3", name="front")


def on_another_hide(data):
    moved(data, (60, 60), name="loop", copy=1, mirrored=False)
    part(data, name="loop", copy=1, mirrored=False)["hide"] = "bend"


def half_a_piece(data):
    one = part(data, name="loop", copy=2, mirrored=True)
    data["placements"].remove(one)
    facts = {key: one[key] for key in data["unplaced"][0] if key in one}
    data["unplaced"].append(facts | {"reason": "no room left: loop (0.18 dm2) nowhere"})


def scar(data):
    ring = part(data, "3", "front")["outline"]
    hide(data, "bend")["zones"] = [{"grade": "D", "kind": "scar", "polygon": ring}]


FAULTS = {
    # settings, which stand in the setting book and with each hide
    "power": (11, "setting", lambda d: put(d["settings"]["bend"], power_percent=7.0)),
    "speed": (11, "setting", lambda d: put(d["settings"]["belly"], speed_mm_s=100.0)),
    "passes": (11, "setting", lambda d: put(d["settings"]["belly"], passes=3)),
    "thinnest": (11, "setting", lambda d: put(d["settings"]["bend"], thinnest_mm=0.5)),
    "thickest": (11, "setting", lambda d: put(d["settings"]["bend"], thickest_mm=3.0)),
    "basis": (11, "setting", lambda d: put(d["settings"]["bend"], basis="tested twice")),
    "power in the book": (11, "setting", lambda d: put(d["workshop"]["setting"][0], power_percent=7.0)),
    "a setting of no book": (11, "setting", lambda d: d["workshop"]["setting"].pop(0)),
    "another row": (3, "setting", lambda d: put(d["settings"], bend=d["workshop"]["setting"][1])),
    "a setting that is none": (3, "setting", lambda d: put(part(d), setting="chrome 9")),
    "power everywhere": (11, "made from", lambda d: both_settings(d, power_percent=7.0)),
    "window everywhere": (11, "made from", lambda d: both_settings(d, thickest_mm=2.4)),
    # what is asked of a part, which every copy says again
    "grade": (11, "grade", lambda d: put(part(d), grade="D")),
    "grade asked": (11, "grade", lambda d: put(d["asked"][0], grade="E")),
    "direction": (11, "direction", lambda d: put(part(d)["direction"], kind="free")),
    "tolerance": (11, "direction", lambda d: put(part(d)["direction"], tolerance_deg=80.0)),
    "turn": (11, "direction", lambda d: put(part(d)["direction"], turn=False)),
    "thickness": (11, "thickness", lambda d: put(part(d), thickness_mm=[1.0, 2.5])),
    "any thickness": (11, "thickness", lambda d: put(part(d), thickness_mm=None)),
    "a filler": (11, "filler", lambda d: put(part(d, "3", "front"), filler=True)),
    "no filler": (11, "filler", lambda d: put(part(d, "stall", "tag"), filler=False)),
    "a filler left out": (11, "filler", lambda d: put(left(d, "4"), filler=True)),
    "side": (11, "side", lambda d: put(part(d), flesh_out=True)),
    "lot": (11, "lot", lambda d: put(part(d, "3", "front"), same_lot=False)),
    "leather": (11, "leather", lambda d: part(d, "3", "front")["kind"].pop("colour")),
    "leather to burn": (11, "leather", lambda d: put(part(d), kind={})),
    "own zone": (11, "zones", lambda d: put(part(d), zones=[{"grade": "E", "polygon": part(d)["outline"]}])),
    "shape asked": (11, "shape", lambda d: put(d["asked"][0], outline=[[0, 0], [80, 0], [80, 31], [0, 30]])),
    "one copy more": (11, "copy", lambda d: put(part(d, name="loop", copy=2, mirrored=False), copy=3)),
    "a twin of none": (11, "copy", lambda d: put(part(d), mirrored=True)),
    "a part of no product": (11, "asked", lambda d: put(part(d, "3", "front"), part="lid")),
    "group": (11, "match", lambda d: put(part(d), match="")),
    "order swapped": (11, "match", lambda d: swap(part(d), part(d, "2"), "order")),
    "piece swapped": (11, "match", lambda d: swap(part(d), part(d, piece=2), "piece")),
    "order and piece swapped": (11, "match", lambda d: swap(part(d, piece=2), part(d, "2"), "order", "piece")),
    "piece and group swapped": (11, "as written", lambda d: swap(part(d), part(d, piece=2), "piece", "match")),
    "pieces of no group swapped": (
        11,
        "as written",
        lambda d: swap(part(d, "stall", "tag"), part(d, "stall", "tag", 2), "piece"),
    ),
    "two loads": (11, "longer", lambda d: put(d["panels"][0], longer="two loads")),
    "wanted": (11, "count", lambda d: put(d["wanted"][0], count=7)),
    "quantity": (11, "count", lambda d: put(d["lines"][0], quantity=3)),
    "count asked": (11, "count", lambda d: put(d["asked"][1], count=3)),
    # where things lie
    "overlap": (1, "overlap", lambda d: moved(d, (0, 30), order="3", name="front")),
    "kerf": (1, "distance", lambda d: both_kerfs(d, 1.0)),
    "no kerf": (11, "made from", lambda d: both_kerfs(d, 0.0)),
    "hide edge": (2, "hide edge", lambda d: moved(d, (-2, 0), order="3", name="front")),
    "scar": (2, "grade D scar zone", scar),
    "thick leather": (3, "thickness", lambda d: put(hide(d, "bend"), nominal_mm=2.6)),
    "leather under a part": (3, "thickness", lambda d: put(part(d)["under"], least_mm=0.7)),
    "backbone": (4, "direction", lambda d: put(hide(d, "belly"), backbone=[[0, 0], [90, 90]])),
    "another hide": (6, "match", on_another_hide),
    "half a piece": (8, "piece", half_a_piece),
    "panel": (5, "panel", lambda d: put(part(d), panel="2")),
    "knife line": (5, "knife line", lambda d: put(d["cuts"][0], start=[200.0, 0.0], end=[200.0, 200.0])),
    "no knife line": (5, "knife line", lambda d: put(d, cuts=[])),
    "part lost": (7, "count", lambda d: d["placements"].remove(part(d, "3", "front"))),
    "left out lost": (7, "count", lambda d: d["unplaced"].pop()),
    "colour": (9, "leather", lambda d: put(hide(d, "bend"), colour="red")),
    "tannage": (9, "leather", lambda d: put(hide(d, "belly"), tannage="chrome")),
    "pin": (10, "pinned", lambda d: put(part(d), pinned={"hide": "belly", "x": 9.0, "y": 9.0, "angle": 0.0})),
    "burnt": (10, "burnt", no_burnt_part),
    "lost part": (10, "lost", one_lost),
    # why something is left out
    "no reason": (7, "reason", lambda d: because(d, "4", " ")),
    "leather there is": (13, "reason", lambda d: because(d, "4", "no hide is red")),
    "leather to burn there is": (
        13,
        "reason",
        lambda d: because(d, "4", "it is to be burnt, and no hide may be"),
    ),
    "not too big for the bed": (13, "reason", lambda d: because(d, "5", "too big for the bed")),
    "not too big": (13, "reason", lambda d: because(d, "4", "too big for any hide")),
    "grade there is": (13, "reason", lambda d: because(d, "4", "no region of its grade: A or better on bend")),
    "thickness there is": (13, "reason", lambda d: because(d, "4", "thickness: nothing is known of bend")),
    "no doubt": (13, "reason", lambda d: because(d, "4", "no room clear of what the trace leaves in doubt")),
    "another area": (13, "reason", lambda d: because(d, "4", "no room left: banner (9.99 dm2) nowhere")),
    "more room than leather": (
        13,
        "reason",
        lambda d: because(d, "4", "no place found in the time given: the largest free place is 99.00 dm2"),
    ),
    "a hide that is none": (
        13,
        "reason",
        lambda d: because(d, "4", "no place found in the time given: banner would fit on shoulder"),
    ),
    "a part of another": (
        13,
        "reason",
        lambda d: because(d, "4", "left out with its piece: lid is too big for the bed"),
    ),
    "not spoiled": (13, "reason", lambda d: because(d, "4", "spoiled at the machine: the next plan makes it again")),
    "matches nothing": (
        13,
        "reason",
        lambda d: because(d, "4", "no hide can hold all of its parts, which must match"),
    ),
    "words": (13, "reason", lambda d: because(d, "4", "the dog ate it")),
    # figures and costs
    "cost": (11, "figures", lambda d: put(d["figures"]["total"], cost="1.00")),
    "yield": (11, "figures", lambda d: put(d["figures"]["hides"][0], yield_of_hide=0.99)),
    "placed": (11, "figures", lambda d: put(d["figures"]["total"], placed=20)),
    "labour": (11, "figures", lambda d: put(d["figures"]["costs"]["pieces"][0], labour="0.10")),
    "margin": (11, "figures", lambda d: put(d["figures"]["costs"]["margins"][0], margin="99.00")),
    "offcut": (11, "figures", lambda d: d["figures"]["hides"][1]["offcuts"].clear()),
    "reason told": (11, "figures", lambda d: put(d["figures"]["left_out"][0], reason="no time")),
    "a figure of no kind": (11, "figures", lambda d: put(d["figures"]["total"], profit="1.00")),
    # what else the files of the job say
    "prices": (11, "made from", lambda d: put(d["workshop"]["prices"], labour_per_hour="3")),
    "selling price": (11, "made from", lambda d: put(d["selling_prices"], **{"key fob": "90.00"})),
    "confidence": (11, "made from", lambda d: put(d["workshop"]["thickness"], confidence=0.5)),
    "day due": (11, "made from", lambda d: put(d["lines"][0], due="2027-01-05")),
    "price of a hide": (11, "made from", lambda d: put(hide(d, "bend"), price="2.00")),
    "hash": (11, "as written", lambda d: put(d["made_from"], **{"orders.csv": "0" * 64})),
    "seal": (11, "as written", lambda d: put(d, seal="0" * 64)),
    "seed": (11, "as written", lambda d: put(d["run"], seed=3)),
}


@pytest.fixture
def written(week, sound):
    """The folder with what a test puts into its layout; as it was afterwards."""
    before = (week / "out" / "layout.json").read_bytes()
    yield week
    (week / "out" / "layout.json").write_bytes(before)


def test_the_layout_is_sound_as_it_is(week):
    done = check_file(week)
    assert (done.findings, done.stale, done.changes) == ([], (), ())


@pytest.mark.parametrize("name", FAULTS)
def test_a_planted_fault_is_found_first_by_its_own_rule(written, sound, name):
    rule, what, plant = FAULTS[name]
    data = copy.deepcopy(sound)
    plant(data)
    assert data != sound
    say(written, data)
    findings = check_file(written).findings
    assert findings and (findings[0].rule, findings[0].what) == (rule, what), findings


REFUSED = {
    "kerf in one place": ("margins.kerf_mm", lambda d: put(d["margins"], kerf_mm=0.0)),
    "bed in one place": ("bed.width_mm", lambda d: put(d["bed"], width_mm=900.0)),
    "a part moved without its lines": ("placements[0].outline", lambda d: put(d["placements"][0], x=99.0)),
    "a part turned without its lines": ("placements[0].outline", lambda d: put(d["placements"][0], angle=9.0)),
    "a stitch hole gone": ("placements[0].stitch", lambda d: put(d["placements"][0], stitch=[])),
    "a cutout gone": ("placements[0].cutouts", lambda d: put(d["placements"][0], cutouts=[])),
    "a drawing changed": ("placements[0].outline", lambda d: d["drawings"][0]["outline"][1].__setitem__(0, 81.0)),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_fact_that_stands_twice_in_a_file_and_differs_is_refused(written, sound, name):
    place, plant = REFUSED[name]
    data = copy.deepcopy(sound)
    plant(data)
    say(written, data)
    with pytest.raises(FileError) as error:
        check_file(written)
    assert error.value.place == place


@pytest.mark.parametrize("command", ["export", "templates"])
@pytest.mark.parametrize("name", ["power", "grade", "piece and group swapped", "power everywhere"])
def test_nothing_is_made_of_a_layout_with_a_planted_fault(written, sound, tmp_path, command, name):
    data = copy.deepcopy(sound)
    FAULTS[name][2](data)
    say(written, data)
    done = run(command, written / "out" / "layout.json", "--to", tmp_path / "cut")
    assert done.returncode == 1 and not (tmp_path / "cut").exists()
    assert done.stdout.count("\n") == 1 and "must not be cut" in done.stdout


@pytest.mark.parametrize("command", [("pin", "1"), ("again", "3", "front", "--piece", 1)])
def test_a_layout_that_was_changed_by_hand_is_not_sealed_anew(written, sound, command):
    data = copy.deepcopy(sound)
    put(data["settings"]["bend"], power_percent=7.0)
    say(written, data)
    done = run(*command, "--folder", written)
    assert done.returncode == 2 and "changed since it was written" in done.stderr
    assert said(written) == data


def test_a_pin_put_in_by_hand_and_another_spelling_of_numbers_break_no_seal(written, sound):
    data = json.loads(
        json.dumps(sound), parse_float=lambda text: int(float(text)) if text.endswith(".0") else float(text)
    )
    part(data)["pinned"] = True
    say(written, data)
    assert check_file(written).findings == []


def test_a_layout_of_an_older_version_says_less_and_is_proved_by_what_it_says(written, sound):
    data = {key: value for key, value in sound.items() if key not in ("asked", "made_from", "seal")}
    say(written, data)
    assert check_file(written).findings == []
    put(part(data), grade="D")
    say(written, data)
    assert [(one.rule, one.what) for one in check_file(written).findings][:1] == [(11, "grade")]


def test_a_report_of_an_unsound_layout_ends_with_one_line_and_does_not_speak_well_of_it(written, sound):
    data = copy.deepcopy(sound)
    put(data["settings"]["bend"], power_percent=7.0)
    say(written, data)
    done = run("report", written / "out" / "layout.json")
    assert done.returncode == 1 and done.stdout.count("\n") == 1 and "must not be cut" in done.stdout
    page = (written / "out" / "report.html").read_text()
    assert "must not be cut" in page and "not to be cut" in page
    for word in ("every ordered part", "Nothing is left out", "Checked.", "ordered pieces whole"):
        assert word not in page
