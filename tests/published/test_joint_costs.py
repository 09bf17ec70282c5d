"""Sharing a joint cost by a physical measure, against a textbook's worked example."""

from dataclasses import replace
from decimal import Decimal

from layouts import layout, put
from shapely.geometry import Polygon, box

from nesting.costs.money import costs
from nesting.model import Hide, Part


def test_leather_is_shared_by_area_as_a_joint_cost_is_by_its_physical_measure():
    """Horngren, Datar and Rajan, Cost Accounting, chapter on joint products: Farmers' Dairy (from memory).

    Joint costs of 400,000 give 25,000 gallons of cream and 75,000 gallons of liquid skim. By the physical measure at
    the splitoff point cream bears 100,000 and skim 300,000, 4 a gallon each. Here the gallons are mm2 of leather.
    """
    hide = Hide("h", box(0, 0, 700, 300), nominal_mm=1.5, tannage="vegetable", price=Decimal("400000"))
    cream, skim = (
        Part(name, Polygon(box(0, 0, *size))) for name, size in (("cream", (250, 100)), ("skim", (300, 250)))
    )
    made = layout(put(cream, 10, 10), put(skim, 300, 10), hide=hide)
    prices = replace(made.workshop.prices, offcut_credit=0.0)
    shared = costs(replace(made, workshop=replace(made.workshop, prices=prices)))
    by_part = {key[2]: cost.leather for key, cost in shared.parts.items()}
    assert by_part == {"cream": Decimal("100000.00"), "skim": Decimal("300000.00")}
