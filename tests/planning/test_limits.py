from dataclasses import fields

import pytest

from nesting.planning.limits import DEFAULT, PlanLimits


def test_what_differs_from_the_defaults_is_told():
    assert DEFAULT.changed() == {} == PlanLimits().changed()
    assert PlanLimits(few_panels=13, full=0.5).changed() == {"few_panels": 13, "full": 0.5}


@pytest.mark.parametrize("name", [field.name for field in fields(PlanLimits)])
def test_no_number_is_negative_nor_no_number_at_all(name):
    for value in (-1, float("nan")):
        with pytest.raises(ValueError, match=f"{name} is {value}"):
            PlanLimits(**{name: value})


def test_counts_and_steps_are_more_than_nothing():
    for name in ("angle_step_deg", "setting_step_mm", "round_iterations", "panels_together", "rounds"):
        with pytest.raises(ValueError, match="give more than 0"):
            PlanLimits(**{name: 0})
    assert PlanLimits(mixture_odds=0.0).mixture_odds == 0.0
