"""Every fault a person may make in a job folder ends in one line with the file, the place, the value and the mend."""

import json

import pytest

from nesting.errors import FileError
from nesting.files.job import read_job

# What is wrong, the file, text in it, what stands there instead, and the place, value and mend that must be told.
REPLACED = [
    ("a negative kerf", "workshop.toml", "kerf_mm = 0.2", "kerf_mm = -0.2", "margins > kerf_mm", "-0.2", "0 or more"),
    ("a kerf that is not a number", "workshop.toml", "kerf_mm = 0.2", "kerf_mm = nan", "margins > kerf_mm", "NaN",
     "finite"),
    ("an endless edge", "workshop.toml", "edge_mm = 4", "edge_mm = inf", "margins > edge_mm", "Infinity", "finite"),
    ("an absurd bed", "workshop.toml", "bed_width_mm = 600", "bed_width_mm = 6e7", "machine > bed_width_mm", "60000000",
     "at most 100000"),
    ("a bed beyond any number", "workshop.toml", "bed_width_mm = 600", f"bed_width_mm = {10**400}",
     "machine > bed_width_mm", "1000", "give"),
    ("a bed in words", "workshop.toml", "bed_width_mm = 600", 'bed_width_mm = "wide"', "machine > bed_width_mm",
     '"wide"', "give a number"),
    ("a bed of truth", "workshop.toml", "bed_width_mm = 600", "bed_width_mm = true", "machine > bed_width_mm", "true",
     "give a number"),
    ("a margin wider than the bed", "workshop.toml", "rated_w = 60\n", "rated_w = 60\nbed_margin_mm = 200\n",
     "machine > bed_margin_mm", "200", "less than half"),
    ("a feed nobody knows", "workshop.toml", "rated_w = 60\n", 'rated_w = 60\nfeed_through = "both"\n',
     "machine > feed_through", '"both"', "'none', 'width' or 'height'"),
    ("no rated power", "workshop.toml", "rated_w = 60\n", "", "machine > rated_w", "missing", "add it"),
    ("no machine", "workshop.toml", "[machine]", "[offcut]", "offcut", "unknown key", "did you mean offcuts?"),
    ("a mistyped key", "workshop.toml", "rated_w = 60", "rated_watt = 60", "machine > rated_watt", "unknown key",
     "did you mean rated_w?"),
    ("a mistyped table", "workshop.toml", "[margins]", "[margin]", "margin", "unknown key", "did you mean margins?"),
    ("an unheard-of key", "workshop.toml", "[margins]", "[margins]\nzzz = 1", "margins > zzz", "unknown key",
     "known keys: kerf_mm"),
    ("too much power", "workshop.toml", "= 55", "= 155", "setting 2 > power_percent", "155", "at most 100"),
    ("power in words", "workshop.toml", "= 55", '= "55"', "setting 2 > power_percent", '"55"', "give a number"),
    ("half a pass", "workshop.toml", "passes = 2", "passes = 1.5", "setting 2 > passes", "1.5", "whole number"),
    ("a window beside the test", "workshop.toml", "= 2.6", "= 2.1", "setting 2 > window", "2 to 2.1 mm",
     "must enclose"),
    ("thicker with less energy", "workshop.toml", "speed_mm_s = 12", "speed_mm_s = 200", "setting 2", "0.33 J/mm at 2.3 mm",
     "thicker leather cannot need less energy than the 1.2 J/mm of setting veg 1.2"),
    ("an operation nobody knows", "workshop.toml", "passes = 2", 'passes = 2\noperation = "etch"', "setting 2 > operation",
     '"etch"', "engrave deep"),
    ("two settings of one name", "workshop.toml", "veg 2.3", "veg 1.2", "setting 2 > name", "veg 1.2",
     "name of its own"),
    ("one colour for two operations", "workshop.toml", '"#D55E00"', '"#0072b2"', "colours", "engrave and outline", "its own"),
    ("a colour in words", "workshop.toml", '"#D55E00"', '"red"', "colours > outline", '"red"', "#rrggbb"),
    ("money in words", "workshop.toml", '"12.50"', '"12,50"', "prices > machine_per_hour", "12,50", "12.50"),
    ("negative money", "workshop.toml", '"12.50"', '"-12.50"', "prices > machine_per_hour", "-12.50", "0 or more"),
    ("money that is no number", "workshop.toml", "= 1.75", "= nan", "prices > masking_per_m2", "NaN", "amount such as"),
    ("an unknown currency", "workshop.toml", '"EUR"', '"euro"', "prices > currency", "euro", "ISO 4217"),
    ("certainty beyond doubt", "workshop.toml", "0.95", "1.0", "thickness > confidence", "1.0", "0.5 to below 1"),
    ("no offcut too small", "workshop.toml", "smallest_mm = 50", "smallest_mm = 0", "offcuts > smallest_mm", "0",
     "more than 0"),
    ("a bracket not closed", "workshop.toml", "[prices]", "[prices", "line 11", "[prices", "correct the TOML"),
    ("a value left out", "workshop.toml", "rated_w = 60", "rated_w =", "line 5", "rated_w =", "correct the TOML"),
    ("a key given twice in TOML", "workshop.toml", "rated_w = 60", "rated_w = 60\nrated_w = 50", "line 6",
     "rated_w = 50", "overwrite"),
    ("an unknown product key", "products.toml", "same_hide", "samehide", "product 1 > samehide", "unknown key",
     "did you mean same_hide?"),
    ("an unknown kind of matching", "products.toml", '"piece"', '"pair"', "product 1 > same_hide", '"pair"',
     "'no', 'piece' or 'order'"),
    ("a missing pattern file", "products.toml", "patterns/holder", "patterns/holdr", "product 1 > pattern",
     "patterns/holdr.svg", "did you mean patterns/holder.svg?"),
    ("a pattern outside", "products.toml", "patterns/holder", "../holder", "product 1 > pattern", "../holder.svg",
     "inside the folder"),
    ("a pattern from the root", "products.toml", "patterns/holder", "/etc/holder", "product 1 > pattern",
     "/etc/holder.svg", "inside the folder"),
    ("an unknown part", "products.toml", '"body"', '"boddy"', "product 1 > part 1 > name", "boddy",
     "did you mean body? parts in patterns/holder.svg: body, pocket"),
    ("two products of one name", "products.toml", "pocket spare", "card holder", "product 2 > name", "card holder",
     "name of its own"),
    ("an unknown part grade", "products.toml", '"D"', '"G"', "product 2 > part 1 > grade", '"G"',
     "'A', 'B', 'C', 'D' or 'E'"),
    ("a wide tolerance", "products.toml", "= 15", "= 150", "product 1 > part 1 > tolerance_deg", "150", "0 to 90"),
    ("thickness the wrong way", "products.toml", "[1.0, 1.4]", "[1.4, 1.0]", "product 1 > part 1 > thickness_mm",
     "[1.4, 1.0]", "[least, greatest]"),
    ("thickness of one number", "products.toml", "[1.0, 1.4]", "[1.0]", "product 1 > part 1 > thickness_mm", "[1.0]",
     "at least 2"),
    ("a thickness in words", "products.toml", "[1.0, 1.4]", '[1.0, "x"]', "product 1 > part 1 > thickness_mm 2", '"x"',
     "give a number"),
    ("no copies", "products.toml", "count = 2", "count = 0", "product 1 > part 2 > count", "0", "1 or more"),
    ("turn in words", "products.toml", "turn = false", 'turn = "no"', "product 1 > part 1 > turn", '"no"',
     "true or false"),
    ("a name with an escape code", "products.toml", "pocket spare", "pocket\\u001b[31m", "product 2 > name", "\\u001b",
     "plain text"),
    ("a mistyped header", "orders.csv", "quantity", "qty", "row 1", "order,product,qty", "order,product,quantity,due"),
    ("an unknown product", "orders.csv", "1002,card holder", "1002,card-holder", "row 3 > product", "card-holder",
     "did you mean card holder?"),
    ("half a piece", "orders.csv", "card holder,3", "card holder,3.5", "row 2 > quantity", "3.5", "whole number"),
    ("less than none", "orders.csv", "card holder,3", "card holder,-3", "row 2 > quantity", "-3", "1 to 10000"),
    ("no quantity", "orders.csv", "card holder,3", "card holder,", "row 2 > quantity", "empty", "whole number"),
    ("a day the other way round", "orders.csv", "2025-03-21", "21/03/2025", "row 3 > due", "21/03/2025",
     "year-month-day"),
    ("a day that never was", "orders.csv", "2025-03-21", "2025-02-30", "row 3 > due", "2025-02-30", "year-month-day"),
    ("a priority out of range", "orders.csv", "2025-12-31,9", "2025-12-31,10", "row 4 > priority", "10",
     "1 (first) to 9"),
    ("an order without name", "orders.csv", "1002,", ",", "row 3 > order", "empty", "give the order"),
    ("an order given twice", "orders.csv", "1002,", "1001,", "row 3", "1001, card holder", "row 2 orders the same"),
    ("a comma out of quotes", "orders.csv", '"initials, gilt"', "initials, gilt", "row 2", "8 cells", "in quotes"),
    ("a quote not closed", "orders.csv", 'gilt"', "gilt", "row 2", "unexpected end of data", "close every quote"),
    ("JSON cut short", "hides/side-2.json", '"version": 1,', '"version": 1', "line 1, column 41", '"id"',
     "correct the JSON"),
    ("a key given twice in JSON", "hides/side-2.json", '"version": 1,', '"version": 1, "version": 1,', "version",
     "given twice", "keep one"),
    ("another format", "hides/side-2.json", "nesting-hide", "nesting-layout", "format", "nesting-layout",
     "nesting-hide"),
    ("a newer version", "hides/side-2.json", '"version": 1', '"version": 2', "version", "2", "update this one"),
    ("a version of truth", "hides/side-2.json", '"version": 1', '"version": true', "version", "true", "whole number 1"),
    ("an id with a slash", "hides/side-2.json", '"side-2"', '"../side"', "id", '"../side"',
     "letters a to z, digits, dash"),
    ("an id with a dot first", "hides/side-2.json", '"side-2"', '".side"', "id", '".side"', "not a dot first"),
    ("coordinates that are no number", "hides/side-2.json", "[900, 0]", "[NaN, 0]", "outline[1][0]", "NaN",
     "finite number"),
    ("coordinates without end", "hides/side-2.json", "[900, 0]", "[1e999, 0]", "outline[1][0]", "Infinity",
     "finite number"),
    ("coordinates beyond 20 m", "hides/side-2.json", "[900, 0]", "[90000, 0]", "outline[1][0]", "90000",
     "20000 or less"),
    ("coordinates in words", "hides/side-2.json", "[900, 0]", '["900", 0]', "outline[1][0]", '"900"', "give a number"),
    ("a point of three numbers", "hides/side-2.json", "[900, 0]", "[900, 0, 1]", "outline[1]", "[900, 0, 1]",
     "at most 2"),
    ("an outline that crosses itself", "hides/side-2.json", "[900, 0], [950, 600]", "[950, 600], [900, 0]", "outline",
     "crosses or touches itself near", "redraw"),
    ("a mistyped zone grade", "hides/side-2.json", '"grade": "E"', '"grade": "e"', "zones[1].grade", '"e"',
     "'A', 'B', 'C', 'D' or 'E'"),
    ("a mistyped zone key", "hides/side-2.json", '"grade": "E"', '"grad": "E"', "zones[1].grad", "unknown key",
     "did you mean grade?"),
    ("a zone outside", "hides/side-2.json", "[300, 300], [360, 300], [330, 320]", "[2000, 1], [2100, 1], [2100, 9]",
     "zones[0]", "(2000, 1)", "move it onto the hide"),
    ("a zone of a line", "hides/side-2.json", "[330, 320]", "[400, 300]", "zones[0].polygon",
     "crosses or touches itself", "redraw"),
    ("a reading outside", "hides/side-2.json", '"x": 700', '"x": 1700', "readings[1]", "(1700, 400)",
     "correct the point"),
    ("a reading of nothing", "hides/side-2.json", '"mm": 1.31', '"mm": 0', "readings[1].mm", "0", "more than 0"),
    ("a reading in ounces", "hides/side-2.json", '"mm": 1.31', '"mm": 31', "readings[1].mm", "31", "at most 20"),
    ("a backbone of a point", "hides/side-2.json", "[900, 320]", "[0, 300]", "backbone", "0", "two different points"),
    ("an unknown tannage", "hides/side-2.json", '"unknown"', '"veg"', "tannage", '"veg"',
     "'vegetable', 'chrome', 'synthetic' or 'unknown'"),
    ("a negative price", "hides/side-2.json", '"58.00"', "-58", "price", "-58", "0 or more"),
    ("a price beyond counting", "hides/side-2.json", '"58.00"', "1e300", "price", "1e+300", "amount such as"),
    ("a trace without scale", "hides/side-2.json", '"mm_per_pixel": 0.31', '"mm_per_pixel": 0', "trace.mm_per_pixel",
     "0", "more than 0"),
    ("a hole outside", "hides/shoulder-1.json", "[120, 140]", "[120, -40]", "holes[0]", "(100, 100)", "move it inside"),
    ("a hole on the edge", "hides/shoulder-1.json", "[[100, 100], [140, 100]", "[[100, 0], [140, 0]", "holes",
     "crosses or touches itself", "as one"),
    ("a pattern part nobody lists", "patterns/holder.svg", "</svg>",
     '<g id="flap"><path id="outline-3" d="M 0 70 H 50 V 90 Z"/></g></svg>', "parts of holder.svg", "flap",
     "no product lists it"),
]
FILES = {"patterns/holder.svg": "products.toml"}


@pytest.mark.parametrize(
    ("name", "old", "new", "place", "value", "mend"), [row[1:] for row in REPLACED], ids=[row[0] for row in REPLACED]
)
def test_a_slip_is_told_in_one_line_with_file_place_value_and_mend(job_folder, name, old, new, place, value, mend):
    path = job_folder / name
    assert old in path.read_text()
    path.write_text(path.read_text().replace(old, new))
    error = refusal(job_folder)
    assert error.file == str(job_folder / FILES.get(name, name))
    assert error.place == place
    assert value in str(error) and mend in error.mend, str(error)


# What is wrong, the file, its whole content, and the place, value and mend that must be told.
WHOLE = [
    ("an empty workshop", "workshop.toml", b"", "machine", "missing", "add it"),
    ("a setting that is no list", "workshop.toml",
     b"[machine]\nbed_width_mm = 1\nbed_height_mm = 1\nrated_w = 1\n[setting]\na = 1", "setting", "a table of 1",
     "give a list"),
    ("an empty list of products", "products.toml", b"", "product", "missing", "add it"),
    ("a product without parts", "products.toml", b'[[product]]\nname = "a"\npattern = "b"\npart = []',
     "product 1 > part", "[]", "at least 1"),
    ("no orders", "orders.csv", b"order,product,quantity,due,priority,thread,note\n", "row 2", "no orders",
     "add a row"),
    ("an empty file of orders", "orders.csv", b"", "row 1", "empty", "make the first row order,product"),
    ("orders in an old encoding", "orders.csv", "order,product\nGröße".encode("latin-1"), "line 2", r"\xf6", "UTF-8"),
    ("orders of zeros", "orders.csv", b"\0" * 50, "row 1", r"\x00", "make the first row"),
    ("an endless cell", "orders.csv", b"order,product,quantity,due,priority,thread,note\n" + b"x" * 200_000, "row 2",
     "field larger", "keep each note short"),
    ("an empty hide", "hides/side-2.json", b" \n", "file", "empty", "backup"),
    ("a hide that is a list", "hides/side-2.json", b"[1, 2]", "file", "[1, 2]", "nesting-hide"),
    ("a hide without format", "hides/side-2.json", b"{}", "format", "missing", 'add "format": "nesting-hide"'),
    ("a hide without outline", "hides/side-2.json", b'{"format": "nesting-hide", "version": 1, "id": "a"}', "outline",
     "missing", "add it"),
    ("a picture for a hide", "hides/side-2.json", b"\xff\xd8\xff\xe0", "line 1", r"\xff\xd8", "UTF-8"),
    ("brackets without end", "hides/side-2.json", b"[" * 200_000, "file", "nested too deep", "a few levels"),
    ("TOML brackets without end", "workshop.toml", b"a = " + b"[" * 100_000, "file", "nested too deep", "a few levels"),
    ("digits without end", "hides/side-2.json", b'{"a": ' + b"9" * 9000 + b"}", "file", "thousands of digits",
     "plain numbers"),
    ("a giant list of orders", "orders.csv", b"x" * (4 * 1024 * 1024 + 1), "file", "over 4 MB", "smaller file"),
    ("a file of line noise", "workshop.toml", b"\x1b[2J = 1", "line 1", "\\x1b[2J", "correct the TOML"),
]


@pytest.mark.parametrize(
    ("name", "content", "place", "value", "mend"), [row[1:] for row in WHOLE], ids=[row[0] for row in WHOLE]
)
def test_a_file_of_something_else_is_told_in_one_line(job_folder, name, content, place, value, mend):
    (job_folder / name).write_bytes(content)
    error = refusal(job_folder)
    assert (error.file, error.place) == (str(job_folder / name), place)
    assert value in str(error) and mend in error.mend, str(error)


@pytest.mark.parametrize("name", ["workshop.toml", "products.toml", "orders.csv", "hides/side-2.json"])
def test_a_folder_in_place_of_a_file_is_refused(job_folder, name):
    (job_folder / name).unlink()
    (job_folder / name).mkdir()
    assert "not a plain file" in str(refusal(job_folder))


def test_a_long_unknown_key_is_cut_short(job_folder):
    data = {"format": "nesting-hide", "version": 1, "k" * 100_000: 1}
    (job_folder / "hides" / "side-2.json").write_text(json.dumps(data))
    assert len(str(refusal(job_folder))) < 700


def refusal(folder) -> FileError:
    with pytest.raises(FileError) as caught:
        read_job(folder)
    assert str(caught.value).isprintable()
    return caught.value
