"""What every order line costs, what it sells for and its margin, as a list for a spreadsheet."""

from __future__ import annotations

import csv
import io

from ..costs.figures import Figures
from ..costs.money import KINDS

NAME = "costs.csv"
FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet would take for a formula where a name begins with it."""


def costs_list(figures: Figures) -> str:
    """The text of the list: a row for each order line, then one of them all.

    Price and margin are of the whole pieces whose selling price is known; the cost is of all parts that are placed.
    """
    costs = figures["costs"]
    margins = {(row["order"], row["product"]): row for row in costs["margins"]}
    stream = io.StringIO()
    lines = csv.writer(stream, lineterminator="\n")
    lines.writerow(["order", "product", "pieces", "whole", *KINDS, "cost", "price", "margin", "currency"])
    for row in costs["lines"]:
        sold = margins.get((row["order"], row["product"]), {})
        lines.writerow(
            [
                *(_plain(row[name]) for name in ("order", "product")),
                *(row[name] for name in ("pieces", "complete", *KINDS, "total")),
                *(sold.get(name, "") for name in ("price", "margin")),
                costs["currency"],
            ]
        )
    pieces, whole = (sum(row[name] for row in costs["lines"]) for name in ("pieces", "complete"))
    sold = costs["sold"] or {}
    money = [*(costs[name] for name in (*KINDS, "total")), *(sold.get(name, "") for name in ("price", "margin"))]
    lines.writerow(["all", "", pieces, whole, *money, costs["currency"]])
    return stream.getvalue()


def _plain(name: str) -> str:
    return f"'{name}" if name.startswith(FORMULA) else name
