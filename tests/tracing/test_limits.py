import ast
from dataclasses import fields, is_dataclass
from pathlib import Path

import pytest

import nesting.tracing
from nesting.errors import ModelError
from nesting.tracing import METHOD, TraceLimits
from nesting.tracing import limits as module

ROOM = Path(nesting.tracing.__file__).parent


def read_elsewhere():
    """Names of attributes that are read in the room, but for the tables."""
    trees = (ast.parse(file.read_text()) for file in ROOM.glob("*.py") if file.stem != "limits")
    return {node.attr for tree in trees for node in ast.walk(tree) if isinstance(node, ast.Attribute)}


def tables():
    return [TraceLimits(), *(getattr(METHOD, entry.name) for entry in fields(METHOD))]


def test_no_number_is_set_in_vain():
    names = {entry.name for table in tables() for entry in fields(table)}
    assert len(names) > 200 and names <= read_elsewhere()


def test_every_number_has_its_reason_beside_it():
    kinds = {
        node.name: node for node in ast.parse(Path(module.__file__).read_text()).body if isinstance(node, ast.ClassDef)
    }
    for table in tables():
        assert is_dataclass(table)
        body = kinds[type(table).__name__].body
        entries = [at for at, node in enumerate(body) if isinstance(node, ast.AnnAssign)]
        assert len(entries) == len(fields(table))
        reasons = [body[at + 1].value.value for at in entries if isinstance(body[at + 1], ast.Expr)]
        assert len(reasons) == len(entries) and all(
            reason.endswith(".") and not reason[0].islower() for reason in reasons
        )


def test_accepting_an_error_waives_what_it_makes_of_scale_area_blur_and_ends():
    limits = TraceLimits(tolerance_mm=1.0).accepting(6)
    assert limits.changed() == {
        "tolerance_mm": 1.0, "error_share": 0.0, "error_mm": 6, "area_share": None, "blurred_mm": 6, "unsteady_mm": 6,
    }  # fmt: skip
    assert TraceLimits().accepting(2).unsteady_mm == TraceLimits().unsteady_mm
    assert TraceLimits(**limits.changed()) == limits and TraceLimits().changed() == {}


@pytest.mark.parametrize(
    "given",
    [
        {"tolerance_mm": 0},
        {"tolerance_mm": 21},
        {"smallest_hole_mm": float("nan")},
        {"smallest_hole_mm": "4"},
        {"error_mm": None},
        {"slit_mm": -1},
        {"deepest_mm": float("inf")},
        {"area_share": "any"},
        {"helped_share": 0},
    ],
)
def test_limits_that_cannot_be_are_refused(given):
    with pytest.raises(ModelError, match=f"^{next(iter(given))}: "):
        TraceLimits(**given)


@pytest.mark.parametrize("largest", [0, -1, 1001, float("nan"), "6"])
def test_an_error_that_cannot_be_is_not_accepted(largest):
    with pytest.raises(ModelError, match="largest_error_mm: .*: give more than 0 and at most 1000 mm"):
        TraceLimits().accepting(largest)
