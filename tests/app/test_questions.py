"""What `nesting look` asks about and what it refuses, at once and with the near word."""

import json
import re

import pytest
import shapely
from commands import run
from planted import write_job

from nesting.files.job import read_job


@pytest.fixture
def week(tmp_path):
    return write_job(tmp_path / "week")


def edit(file, old, new):
    text = file.read_text()
    assert old in text
    file.write_text(text.replace(old, new, 1))


def look(week):
    done = run("look", week)
    return done, " ".join(done.stdout.split())


def readings(week, *rows):
    path = week / "hides" / "bend.json"
    told = [dict(zip(("x", "y", "mm"), row)) for row in rows]
    path.write_text(json.dumps(json.loads(path.read_text()) | {"readings": told}))


EVEN = [(50, 50, 1.5), (300, 40, 1.52), (550, 60, 1.49), (60, 150, 1.51), (310, 160, 1.48), (560, 150, 1.5)]


def test_a_colour_that_no_hide_has_is_asked_about_with_the_near_word_and_is_no_fault(week):
    edit(week / "orders.csv", "3,case,2,2026-01-07,3,,,tan", "3,case,2,2026-01-07,3,,,tann")
    done, said = look(week)
    assert done.returncode == 0
    assert "note: orders.csv: order 3 case: colour tann: no hide in hides/ is that: did you mean tan?" in said
    assert "note: orders.csv: order 5 case: colour red: no hide in hides/ is that: there is tan" in said
    assert "order 1 key fob: colour" not in said


def test_a_priority_far_behind_is_told_with_the_scale(week):
    edit(week / "orders.csv", "2,key fob,1,2026-01-06,2", "2,key fob,1,2026-01-06,7")
    done, said = look(week)
    assert done.returncode == 0
    assert "priority 1 is made first and 9 last (1: 1 line, 3: 3 lines, 7: 1 line, 9: 1 line): 2 waits" in said


def test_readings_that_contradict_each_other_are_told_with_what_each_does_to_the_coverage(week):
    readings(week, *EVEN, (400, 100, 1.52), (400, 100, 2.6))
    done, said = look(week)
    assert done.returncode == 0
    told = said.partition("readings 1.52 and 2.6 mm at (400, 100) contradict each other: ")[2]
    both, first, second = map(int, re.findall(r"(\d+)%", told)[:3])
    assert second == 100 and both < 100 and first < 100


def test_a_reading_far_from_the_others_is_told(week):
    readings(week, *EVEN, (400, 100, 15.0))
    done, said = look(week)
    assert done.returncode == 0 and "reading 15 mm at (400, 100) is far from what the others say there, 1.5" in said
    assert "100% without; measure there again" in said


@pytest.mark.parametrize(
    ("day", "words"),
    [
        ("2026-02-30", "February 2026 has 28 days: give one from 01 to 28"),
        ("2024-02-30", "February 2024 has 29 days: give one from 01 to 29"),
        ("2026-13-01", "there is no month 13: give a day as year-month-day, such as 2025-03-14"),
        ("7/1/2026", "give a day as year-month-day, such as 2025-03-14"),
    ],
)
def test_a_day_that_is_none_is_told_by_what_is_wrong_with_it(week, day, words):
    edit(week / "orders.csv", "2026-01-07", day)
    done, _ = look(week)
    assert done.returncode == 2 and f"row 4 > due: {day}: {words}" in done.stderr


def test_an_id_given_twice_is_told_at_once_with_whatever_else_is_wrong_in_the_file(week):
    other = json.loads((week / "hides" / "bend.json").read_text()) | {"id": "Belly", "outline": [[0, 0], [9, 9]]}
    (week / "hides" / "bend.json").write_text(json.dumps(other))
    done, _ = look(week)
    assert "bend.json: id: Belly: belly.json has the same id" in done.stderr and "bend.json: outline: " in done.stderr


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("CON", "some systems keep this name for a device"),
        ("lpt1.json", "some systems keep this name for a device"),
        ("-rf", "commands take a dash first for an option"),
    ],
)
def test_an_id_that_is_a_device_or_an_option_is_refused(week, name, words):
    edit(week / "hides" / "bend.json", '"bend"', json.dumps(name))
    done, _ = look(week)
    assert done.returncode == 2 and words in done.stderr


@pytest.mark.parametrize("name", ["contour", "a-rf", "com", "console.1"])
def test_an_id_that_only_looks_like_one_is_taken(week, name):
    edit(week / "hides" / "bend.json", '"bend"', json.dumps(name))
    assert look(week)[0].returncode == 0


def test_a_part_as_thin_as_a_line_is_refused(week):
    edit(week / "patterns" / "tag.svg", "M 0 0 H 30 V 20 H 0 Z", "M 0 0 H 30 V 0.01 H 0 Z")
    done, _ = look(week)
    assert done.returncode == 2 and "tag: nowhere 0.5 mm wide" in done.stderr


def test_a_currency_that_is_none_is_refused(week):
    edit(week / "workshop.toml", '"EUR"', '"ZZZ"')
    edit(week / "workshop.toml", "machine_per_hour = 12", 'machine_per_hour = "$12"')
    done, _ = look(week)
    assert done.returncode == 2
    assert "prices > currency: ZZZ: is no currency: give a code of ISO 4217 such as EUR or USD" in done.stderr


def test_a_pattern_that_is_a_folder_is_not_offered_as_itself(week):
    (week / "patterns" / "tag.svg").unlink()
    (week / "patterns" / "tag.svg").mkdir()
    done, _ = look(week)
    assert "patterns/tag.svg: is no plain file" in done.stderr and "did you mean patterns/tag.svg" not in done.stderr


def test_what_smoothing_an_edge_of_teeth_costs_is_told_before_a_plan(week):
    path = week / "hides" / "belly.json"
    teeth = [[round(200 - i / 26, 4), 120 - i % 2] for i in range(5200)]
    hide = json.loads(path.read_text()) | {"outline": [[0, 0], [200, 0], *teeth]}
    path.write_text(json.dumps(hide))
    done, said = look(week)
    smooth = next(one.outline for one in read_job(week).hides if one.id == "belly")
    drawn = shapely.Polygon(hide["outline"])
    up_to, costs = drawn.exterior.hausdorff_distance(smooth.exterior), (drawn.area - smooth.area) / 10_000
    found = re.search(
        r"note: hide belly: its edge is all teeth .* up to ([0-9.]+) mm inside, which costs ([0-9.]+) dm2", said
    )
    assert done.returncode == 0 and "hide bend: its edge" not in said
    assert up_to <= float(found[1]) <= 6 and float(found[2]) == pytest.approx(costs, abs=0.006)


def test_what_may_come_to_be_cut_by_knife_though_there_is_leather_to_burn_is_told(week):
    edit(week / "hides" / "belly.json", '"tannage": "vegetable"', '"tannage": "chrome"')
    told = "note: case, tag may lie on belly too, which is not burnt"
    # the fob has a stitch hole, and its loops lie with it
    done, said = look(week)
    assert done.returncode == 0 and told in said
    edit(week / "products.toml", "filler = true", "filler = true\nburn = true")
    assert told.replace(", tag", "") in look(week)[1]


def test_a_part_too_long_for_the_two_loads_asked_for_is_told(week):
    edit(week / "products.toml", '"refuse"', '"two loads"')
    assert "it is burnt in two loads" in look(week)[1]
    edit(week / "patterns" / "banner.svg", "H 400 V", "H 800 V")
    assert "and too long for two loads: it is cut by knife" in look(week)[1]


def test_what_can_be_cut_from_no_hide_is_told_before_a_plan_with_its_reason_and_mend(week):
    for hide in ("belly", "bend"):
        edit(week / "hides" / f"{hide}.json", '"tannage": "vegetable"', '"tannage": "chrome"')
    done, said = look(week)
    # the fob has a stitch hole
    assert done.returncode == 0
    assert "fob can be cut from no hide: it is to be burnt, and no hide may be" in said
    assert "with burn = false it is cut by knife" in said


def test_an_empty_setting_book_is_told_with_its_mend_and_not_called_nothing_wrong(week):
    book = week / "workshop.toml"
    book.write_text(re.sub(r"\[\[setting\]\]\n(?:(?!\[).*\n)*", "", book.read_text()))
    said = look(week)[1]
    assert "no file to burn can be written for it; cut a test piece (nesting swatch FOLDER --thickness 1.5" in said
    assert "nothing is wrong with the files, but see the" in said


def test_room_to_hang_over_a_bed_that_does_not_feed_through_is_asked_about(week):
    workshop = week / "workshop.toml"
    workshop.write_text(workshop.read_text().replace("[machine]", "[machine]\noverhang_mm = 120", 1))
    assert "workshop.toml: overhang_mm 120 does nothing without feed_through: say feed_through =" in look(week)[1]
    workshop.write_text(workshop.read_text().replace("[machine]", '[machine]\nfeed_through = "width"', 1))
    assert "does nothing without" not in look(week)[1]


def test_a_product_that_there_is_not_is_told_in_a_sentence(week):
    edit(week / "orders.csv", "3,case,", "3,wallet,")
    assert "wallet: is none of the products: " in look(week)[0].stderr
