from datetime import date
from pathlib import Path

import pytest
from babel.dates import format_date
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.errors import FileError
from nesting.files.orders import ASKING, HEADER, HEADINGS, day_of, orders_from_text, plain_name, read_orders
from nesting.model import OrderLine

PRODUCTS = ("card holder", "pocket spare")
GOOD = "order,product,quantity,due,priority,thread,note\n"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "orders.csv"


def test_every_cell_is_read(job_folder):
    lines = read_orders(job_folder / "orders.csv", PRODUCTS)
    assert lines[0] == OrderLine("1001", "card holder", 3, date(2025, 3, 14), 1, "black linen", "initials, gilt")
    assert lines[1] == OrderLine("1002", "card holder", 1, date(2025, 3, 21), 3, "", "")
    assert len(lines) == 3


@pytest.mark.parametrize(
    "change", ["semicolons", "byte order mark", "windows line ends", "empty rows", "old mac line ends"]
)
def test_what_spreadsheets_do_to_the_file_does_not_matter(job_folder, change):
    path = job_folder / "orders.csv"
    before, content = read_orders(path, PRODUCTS), path.read_bytes()
    if change == "semicolons":
        content = content.replace(b",", b";").replace(b"initials;", b"initials,")
    elif change == "byte order mark":
        content = b"\xef\xbb\xbf" + content
    elif change == "windows line ends":
        content = content.replace(b"\n", b"\r\n")
    elif change == "old mac line ends":
        content = content.replace(b"\n", b"\r")
    else:
        content += b"\n,,,,,,\n"
    path.write_bytes(content)
    assert read_orders(path, PRODUCTS) == before


def test_rows_are_numbered_as_in_a_spreadsheet_whatever_a_quoted_note_holds(path):
    path.write_text(GOOD + '1,card holder,1,2025-03-14,,,"two\nlines"\n\n2,card holder,0,2025-03-14,,,\n')
    with pytest.raises(FileError, match="row 4 > quantity: 0: give 1 to 10000"):
        read_orders(path, PRODUCTS)


def test_a_note_of_several_lines_becomes_one(path):
    path.write_text(GOOD + '1,card holder,1,2025-03-14,,,"two\r\n  lines"\n')
    assert read_orders(path, PRODUCTS)[0].note == "two lines"


def test_the_same_order_may_name_two_products(path):
    path.write_text(GOOD + "1,card holder,1,2025-03-14,,,\n1,pocket spare,1,2025-03-14,,,\n")
    assert [line.product for line in read_orders(path, PRODUCTS)] == ["card holder", "pocket spare"]


def test_a_header_alone_is_a_list_without_orders(path):
    path.write_text(GOOD)
    assert read_orders(path, PRODUCTS) == ()


def test_columns_stand_in_any_order_and_say_what_leather_is_asked_for(path):
    path.write_text(
        "colour,product,order,quantity,due,note,priority,thread,tannage,finish,leather\n"
        " Cognac ,card holder,1,2,2025-03-14,gilt,1,black,vegetable,waxed,bridle butt\n"
        ",card holder,2,1,2025-03-14,,,,,,\n"
    )
    asked, bare = read_orders(path, PRODUCTS)
    assert (asked.leather, asked.colour, asked.finish, asked.tannage) == ("bridle butt", "Cognac", "waxed", "vegetable")
    assert (asked.order, asked.quantity, asked.thread, asked.note, asked.priority) == ("1", 2, "black", "gilt", 1)
    assert bare == OrderLine("2", "card holder", 1, date(2025, 3, 14))


def test_any_of_the_columns_for_leather_may_stand_alone_and_needs_no_hide_of_its_kind(path):
    for name in ASKING:
        path.write_text(f"{GOOD.strip()},{name}\n1,card holder,1,2025-03-14,,,,chrome\n")
        assert getattr(read_orders(path, PRODUCTS)[0], name) == "chrome"


def test_a_tannage_that_there_is_not_is_refused(path):
    path.write_text(
        f"{GOOD.strip()},tannage\n1,card holder,1,2025-03-14,,,,Chrome\n2,card holder,1,2025-03-14,,,,oak\n"
    )
    with pytest.raises(FileError, match="row 3 > tannage: oak: give one of vegetable, chrome, synthetic, unknown"):
        read_orders(path, PRODUCTS)


def test_one_order_for_the_same_product_of_two_colours_is_to_have_two_names(path):
    rows = "1,card holder,1,2025-03-14,,,,Black\n1,card holder,2,2025-03-14,,,,{}\n"
    for colour, mend in (("cognac", "name one of the two otherwise, such as 1-2"), ("black", "put both quantities in")):
        path.write_text(f"{GOOD.strip()},colour\n{rows.format(colour)}")
        with pytest.raises(FileError, match=f"row 3: 1, card holder: row 2 orders .*{mend}"):
            read_orders(path, PRODUCTS)


def test_a_list_without_its_heading_row_is_told_so(path):
    for first in ("2638-01,key fob,2,2025-03-14", "2638-01\tkey fob\t2"):
        path.write_text(first + "\n")
        with pytest.raises(FileError, match="the heading row is missing: put order,product,quantity,") as told:
            read_orders(path, PRODUCTS)
        assert "unknown" not in str(told.value)


@pytest.mark.parametrize(
    "header, fault",
    [
        (GOOD.strip() + ",color", "color is unknown"),
        (GOOD.strip() + ",", "a column without a name is unknown"),
        (GOOD.strip() + ",colour,colour", "colour stands there 2 times"),
        (GOOD.strip() + ",due", "due stands there 2 times"),
        ("product,order,due,priority,note,colour", "quantity is missing"),
        (GOOD.strip() + "," + "x" * 5000, "x" * 60 + " is unknown"),
    ],
)
def test_a_header_that_is_not_right_is_told_by_the_column(path, header, fault):
    path.write_text(header + "\n")
    with pytest.raises(FileError) as caught:
        read_orders(path, PRODUCTS)
    assert caught.value.place == "row 1" and caught.value.mend.endswith(f": {fault}")
    assert "order,product,quantity,due,priority,thread,note" in caught.value.mend and len(str(caught.value)) < 400


@settings(deadline=None)
@given(
    content=st.one_of(
        st.text(max_size=200), st.lists(st.lists(st.text(max_size=6), min_size=7, max_size=7), max_size=3)
    )
)
def test_any_text_loads_or_is_refused_in_one_line(tmp_path_factory, content):
    path = tmp_path_factory.mktemp("orders") / "orders.csv"
    text = content if isinstance(content, str) else GOOD + "\n".join(",".join(row) for row in content)
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    try:
        assert all({*HEADER, *ASKING} == set(vars(line)) for line in read_orders(path, PRODUCTS))
    except FileError as error:
        assert str(error).startswith(str(path)) and all(str(fault).isprintable() for fault in error.all)


def test_what_is_for_stock_is_due_on_no_day_and_comes_last_of_its_priority(path):
    path.write_text(GOOD + "1,card holder,2,,2,,\n2,card holder,2,2025-03-14,2,,\n3,card holder,2,2025-03-14,3,,\n")
    lines = read_orders(path, PRODUCTS)
    assert lines[0].due is None
    assert [line.order for line in sorted(lines, key=lambda line: line.rank)] == ["2", "1", "3"]


def test_every_fault_of_every_row_is_told_at_once(path):
    path.write_text(GOOD + "1,wallet,two,soon,2,,\n2,card holder,3,,,,\n3,card holder,0,,7.5,,\n4,card holder\n")
    with pytest.raises(FileError) as caught:
        read_orders(path, PRODUCTS)
    places = {fault.place for fault in caught.value.all}
    wrong = {"row 2 > product", "row 2 > quantity", "row 2 > due", "row 4 > priority", "row 5"}
    assert places == wrong and str(caught.value).count("\n") == 4


def test_a_tannage_is_asked_for_as_people_write_it(path):
    path.write_text(GOOD.strip() + ",tannage\n1,card holder,2,,,,,Veg-tan\n")
    assert read_orders(path, PRODUCTS)[0].tannage == "vegetable"


def test_columns_that_are_left_out_are_as_if_empty(tmp_path):
    (tmp_path / "orders.csv").write_text("product,quantity,order\nfob,2,A-1\n")
    (line,) = read_orders(tmp_path / "orders.csv", None)
    assert (line.order, line.product, line.quantity) == ("A-1", "fob", 2)
    assert (line.due, line.priority, line.thread, line.note) == (None, 3, "", "")


def test_a_column_of_products_under_another_name_is_told_as_such(path):
    path.write_text("order,shade,what,quantity\n1,x9,card holder,2\n2,,fob,1\n")
    with pytest.raises(FileError, match="what holds names of products: call that column product; make the") as caught:
        read_orders(path, PRODUCTS)
    assert str(caught.value).endswith("shade is unknown, what is unknown, product is missing")
    with pytest.raises(FileError, match="quantity: make the first row"):
        read_orders(path, None)


@pytest.mark.parametrize(
    "text",
    [
        *("11 Dec 2026", "11 December 2026", "11-Dec-2026", "11th dec. 2026", "Dec 11, 2026", "December 11th 2026"),
        *("11. Dez. 2026", "11. Dezember 2026", "11.Dez.2026", "11.12.2026", "2026-12-11"),
    ],
)
def test_a_day_that_can_be_no_other_is_read_however_it_is_written(path, text):
    path.write_text(f'order,product,quantity,due\n1,card holder,1,"{text}"\n')
    assert read_orders(path, PRODUCTS)[0].due == date(2026, 12, 11)


@given(
    st.dates(date(1000, 1, 1)), st.sampled_from(["en", "de"]), st.sampled_from(["d MMM y", "d. MMMM y", "MMMM d, y"])
)
def test_a_day_with_the_name_of_its_month_is_read_as_the_library_writes_it(day, locale, pattern):
    # names and short forms of months: Unicode CLDR, by babel
    assert day_of(format_date(day, pattern, locale)) == day


@pytest.mark.parametrize("text", ["12/11/2026", "30 Feb 2026", "11 Ju 2026", "11 Foo 2026", "11 Dec 26", "Dec 2026"])
def test_what_may_be_another_day_or_is_none_is_refused(path, text):
    path.write_text(f"order,product,quantity,due\n1,card holder,1,{text}\n")
    with pytest.raises(FileError, match="give a day as year-month-day"):
        read_orders(path, PRODUCTS)


def test_a_list_by_other_hands_may_name_columns_and_products_in_its_own_way():
    text = "Order no\tItem\tQty\tNeed by\tRemarks\n7\tCard-Holder\t2\t9. Dez. 2026\tgift\n8\tcard holder\t1\t\t\n"
    told = []
    first, second = orders_from_text(text, "a list", PRODUCTS, told)
    assert first == OrderLine("7", "card holder", 2, date(2026, 12, 9), note="gift") and second.order == "8"
    assert told == ["Card-Holder is taken as card holder"]
    with pytest.raises(FileError, match="order is missing"):
        orders_from_text(text, "a list", PRODUCTS)
    # of two that are as near none is taken
    with pytest.raises(FileError, match="Card-Holder: did you mean"):
        orders_from_text(text, "a list", ("card holder", "card_holder"), [])


def test_every_heading_means_one_column_and_is_written_as_it_is_looked_up():
    names = [name for column, others in HEADINGS.items() for name in (column, *others)]
    assert len(set(names)) == len(names) and [plain_name(name) for name in names] == names
    assert tuple(HEADINGS) == (*HEADER, *ASKING)
