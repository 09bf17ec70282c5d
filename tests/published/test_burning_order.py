"""The order of burning: common practice, no published source."""

from nesting.laser.order import burning_order
from nesting.model import OPERATIONS


def test_holes_and_cutouts_burn_before_outlines():
    assert OPERATIONS.index("stitch") < OPERATIONS.index("cutout") < OPERATIONS.index("outline") == len(OPERATIONS) - 1
    assert list(burning_order({})) == list(OPERATIONS)
