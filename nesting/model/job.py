"""What is ordered, and a job: all that one run needs."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from ..errors import ModelError
from .hides import Hide
from .kinds import Asking, Kind
from .parts import Part, Product
from .values import MOST_COPIES, counted
from .workshop import Workshop


@dataclass(frozen=True)
class OrderLine(Asking):
    """So many of one product, due on a day or, for stock, on none. Priority 1 is placed first.

    ``leather``, ``colour``, ``finish`` and ``tannage`` are what the customer asks of leather.
    """

    order: str
    product: str
    quantity: int
    due: date | None
    priority: int = 3
    thread: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        if not 1 <= self.quantity <= MOST_COPIES:
            raise ModelError(f"quantity of order {self.order}", self.quantity, f"give 1 to {MOST_COPIES}")
        if not 1 <= self.priority <= 9:
            raise ModelError(f"priority of order {self.order}", self.priority, "give 1 (first) to 9 (last)")

    @property
    def rank(self) -> tuple[int, date]:
        """What comes first: by priority, then by the day it is due, what is due on none last."""
        return self.priority, self.due or date.max

    def kind(self, product: Product, part: Part) -> Kind:
        """The leather that a part of this order is cut from: as the order says, else the part, else the product."""
        burn = bool(part.stitch or part.engrave) if product.burn is None else product.burn
        return Kind.asked(self, part, product, burn=burn)


@dataclass(frozen=True, repr=False)
class Job:
    """All that one run needs: the workshop, what it makes, what it has, what is ordered.

    ``made_from`` has the SHA-256 of each file that it was read from, by its path in the folder.
    """

    workshop: Workshop
    products: tuple[Product, ...]
    hides: tuple[Hide, ...]
    orders: tuple[OrderLine, ...]
    made_from: dict[str, str] = field(default_factory=dict, hash=False)

    def __repr__(self) -> str:
        pieces = counted(sum(line.quantity for line in self.orders), "piece")
        products = counted(len({line.product for line in self.orders}), "product")
        lines, hides = counted(len(self.orders), "order line"), counted(len(self.hides), "hide")
        return f"{pieces} of {products} in {lines}, {hides}"

    @property
    def selling_prices(self) -> dict[str, Decimal]:
        """What one piece sells for, by product, where it is known."""
        return {product.name: product.price for product in self.products if product.price is not None}

    def product(self, name: str) -> Product:
        """The product called ``name``."""
        return next(product for product in self.products if product.name == name)
