"""A job so small that a plan of it takes a second."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

from shapely.geometry import Polygon, box

from nesting.model import Hide, Job, Machine, Margins, OrderLine, Part, Prices, Product, Setting, Workshop

TAG = Part("tag", Polygon([(0, 0), (70, 0), (70, 30), (20, 45), (0, 30)]))
SETTINGS = (Setting("thin", 1.2, 12, 60, 1, 1.0, 1.4), Setting("thick", 2.0, 10, 60, 2, 1.8, 2.2))


def small_job() -> Job:
    """Tags for two small hides, one of them wider than the bed, and fillers for what is left."""
    hides = (
        Hide("small", box(0, 0, 180, 120), nominal_mm=1.2, tannage="vegetable", price=Decimal(10)),
        Hide("wide", box(0, 0, 320, 120), nominal_mm=2.0, tannage="vegetable", price=Decimal(30)),
    )
    products = (Product("tag", (TAG,)), Product("spare tag", (replace(TAG, name="spare"),), filler=True))
    due = date(2026, 3, 2)
    orders = (OrderLine("A-1", "tag", 6, due), OrderLine("stall", "spare tag", 2, due, priority=9))
    machine = Machine("laser", 200, 200, 40)
    workshop = Workshop(machine, SETTINGS, Margins(), Prices("EUR"), thickness_spread_mm=0.05)
    return Job(workshop, products, hides, orders)
