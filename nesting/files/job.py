"""A job folder: everything one run needs."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ..errors import FileError
from ..model import Hide, Job, OrderLine, Product
from .hides import read_hide
from .limits import DEFAULT
from .orders import read_orders
from .products import read_products
from .workshop import read_workshop

FOLDER = "a job folder holds workshop.toml, products.toml, patterns/, hides/ and orders.csv"


def read_job(folder: str | Path) -> Job:
    """Read a whole job folder.

    Parameters
    ----------
    folder : str or Path
        Holds workshop.toml, products.toml, patterns/*.svg, hides/*.json and orders.csv.

    Returns
    -------
    Job
        Hides in the order of their file names.

    Raises
    ------
    FileError
        For the first fault in any of the files.
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise FileError(folder, "folder", "not found" if not folder.exists() else "not a folder", FOLDER)
    for name in ("workshop.toml", "products.toml", "orders.csv"):
        if not (folder / name).exists():
            raise FileError(folder / name, "file", "not found", FOLDER)
    workshop = read_workshop(folder / "workshop.toml")
    products = read_products(folder / "products.toml")
    orders = read_orders(folder / "orders.csv", products)
    _check_orders(folder / "orders.csv", orders, products)
    return Job(workshop, products, _hides(folder / "hides"), orders)


def _check_orders(path: Path, orders: Sequence[OrderLine], products: Sequence[Product]) -> None:
    if not orders:
        raise FileError(path, "row 2", "no orders", "add a row for each product ordered")
    copies = {
        product.name: sum(part.count * (1 + part.mirrored_twin) for part in product.parts) for product in products
    }
    total = sum(line.quantity * copies[line.product] for line in orders)
    if total > DEFAULT.most_parts:
        mend = f"order at most {DEFAULT.most_parts} parts in one run"
        raise FileError(path, "quantity", f"{total} parts in all", mend)


def _hides(folder: Path) -> tuple[Hide, ...]:
    # Hidden files are left out: some systems put a "._name.json" beside every file on a shared disk.
    paths = sorted(path for path in folder.glob("*.json") if not path.name.startswith("."))
    if not paths:
        raise FileError(folder, "folder", "no hides", "trace a photo into it, or write a .json file for each hide")
    hides: list[Hide] = []
    homes: dict[str, Path] = {}
    for path in paths:
        hide = read_hide(path)
        # Some systems do not tell capitals apart in file names, and files are named after hides.
        first = homes.setdefault(hide.id.lower(), path)
        if first != path:
            raise FileError(path, "id", hide.id, f"{first.name} has the same id (capitals do not count): change one")
        hides.append(hide)
    return tuple(hides)
