"""Files damaged at random are read or refused in one line that any terminal can show; and what such files have found.

`tests/benchmarks/damaged.py` reads as many as there is time for.
"""

import pytest
from fuzzed import KINDS, damaged, read_damaged
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

FEW = 12
MANY = 60
SLOW = ("photo", "dxf", "pdf")


@pytest.mark.parametrize("kind", KINDS)
def test_a_damaged_file_is_read_or_refused_in_a_line(kind):
    @settings(max_examples=FEW if kind in SLOW else MANY, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(st.integers(0, 2**48 - 1))
    def read(number):
        read_damaged(kind, damaged(kind, number))

    read()


@pytest.mark.parametrize("kind", KINDS)
def test_the_samples_are_sound_and_damage_is_found(kind):
    for sample in KINDS[kind].samples():
        refused = read_damaged(kind, sample)
        # jobs made at random may ask for what is refused
        assert not refused or kind in ("hide", "svg pattern"), refused
    few = 8 if kind in SLOW else 40
    assert any(read_damaged(kind, damaged(kind, number)) for number in range(few))


@settings(max_examples=20, deadline=None)
@example("orders", b"order,product,quantity,due,priority,thread,no" + b",quantity,due,priority,thread,no" * 1000)
@example("orders", b"order,product\x1b[31m,quantity,due,priority,thread,note\n")
@example("camera", b'{"format": "nesting-camera", "\\u001b[31m": 1}')
@example("camera", b'{"format": "nesting-camera", "version": 1, "lens": "\\ud800"}')
@example("cut dxf", b"999\nlayout 00000000\n999\npose 0 0 0\n\x1b[31m \nSECTION\n")
@given(st.sampled_from(["orders", "camera", "workshop"]), st.binary(max_size=60))
def test_no_refusal_upsets_a_terminal(kind, content):
    assert read_damaged(kind, content).isprintable()


def test_a_layout_whose_settings_name_a_hide_of_control_letters_is_refused_in_a_line():
    (sample,) = KINDS["layout"].samples()
    refused = read_damaged("layout", sample.replace(b'"settings": {"h"', b'"settings": {"\\u001b[31m"'))
    assert r"\x1b[31m" in refused and "hides in this layout: h" in refused


FAR = [
    (b"<path", b'<path d="M0,0 A1E30,1E30 0 0 1 9,9" /><path', "path step A"),
    (b"<path", b'<circle cx="1" cy="1" r="1E9"/><path', "<circle> in "),
    (b"<path", b'<path d="M0,0 C1,1 1E300,2 9,9"/><path', "path step C"),
    (b"<svg", b'<?xml version="1.0" encoding="UTF1"?><svg', "SVG"),
]


@pytest.mark.parametrize("old, new, place", FAR)
def test_a_file_to_burn_that_is_on_no_bed_or_in_no_letters_is_refused(old, new, place):
    (sample,) = KINDS["cut svg"].samples()
    assert old in sample
    text = new + sample.partition(old)[2] if old == b"<svg" else sample.replace(old, new, 1)
    assert f": {place}" in read_damaged("cut svg", text)


@pytest.mark.parametrize("name", ["reading 1.4", "zone C scar", "backbone", "outline"])
def test_a_shape_of_a_hide_drawing_that_draws_nothing_is_refused(name):
    (sample,) = KINDS["hide svg"].samples()
    refused = read_damaged("hide svg", sample.replace(b"</svg>", f'<path id="{name}" d=""/></svg>'.encode()))
    assert refused.endswith(f"{name}: draws nothing: delete it, or draw it again")


def test_a_label_of_a_hide_drawing_is_told_in_short():
    (sample,) = KINDS["hide svg"].samples()
    path = f'<path inkscape:label="zone {"C ne" * 900}" d="M1,1 L2,2 L3,1 L2,3 L1,2 L3,3 Z"/></svg>'
    refused = read_damaged("hide svg", sample.replace(b"</svg>", path.encode()))
    assert "crosses itself" in refused and len(refused) < 300
