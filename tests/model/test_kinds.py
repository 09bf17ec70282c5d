import pytest
from shapely.geometry import box

from nesting.model import Hide, Kind

COGNAC = Hide("h", box(0, 0, 500, 300), tannage="vegetable", colour="Cognac", leather="bridle butt", finish=" waxed")


@pytest.mark.parametrize(
    "kind, allowed",
    [
        (Kind(), True),
        (Kind(colour=" COGNAC "), True),
        (Kind(colour="cogna"), False),
        (Kind("Bridle Butt", "cognac", "Waxed", "VEGETABLE", True), True),
        (Kind("shoulder"), False),
        (Kind(finish="matt"), False),
        (Kind(tannage="chrome"), False),
        (Kind("bridle butt", "black"), False),
        (Kind(colour="  "), True),
    ],
)
def test_a_hide_is_of_a_kind_when_it_is_all_that_is_asked(kind, allowed):
    assert kind.allows(COGNAC) is allowed


def test_what_a_hide_does_not_say_of_itself_it_is_not():
    bare = Hide("h", box(0, 0, 500, 300))
    assert Kind().allows(bare)
    for kind in (Kind("bridle"), Kind(colour="black"), Kind(finish="matt"), Kind(tannage="vegetable"), Kind(burn=True)):
        assert not kind.allows(bare)


@pytest.mark.parametrize("tannage, burnt", [("vegetable", True), ("chrome", False), ("synthetic", False)])
def test_only_leather_that_may_be_burnt_is_allowed_where_that_is_asked(tannage, burnt):
    hide = Hide("h", box(0, 0, 500, 300), tannage=tannage)
    assert Kind(burn=True).allows(hide) is burnt and Kind(burn=False).allows(hide)


@pytest.mark.parametrize(
    "kind, words",
    [
        (Kind(), "any"),
        (Kind(colour=" cognac", tannage="vegetable"), "cognac, vegetable"),
        (Kind("bridle butt", "cognac", "waxed", "Vegetable", True), "bridle butt, cognac, waxed, Vegetable"),
        (Kind(colour="black", burn=True), "black, may be burnt"),
    ],
)
def test_a_kind_of_leather_reads_as_people_say_it(kind, words):
    assert str(kind) == words


def test_a_hide_is_of_its_own_kind():
    assert str(Kind.of(COGNAC)) == "bridle butt, Cognac, waxed, vegetable" and Kind.of(COGNAC).allows(COGNAC)
