"""A job folder: everything one run needs."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from pathlib import Path

import shapely

from ..atomic import write_bytes
from ..errors import Faults, FileError
from ..geometry import detail_mm, plain_corners, plainer
from ..model import Hide, Job, OrderLine, Product, Smoothed, Workshop
from .hides import hide_from_dict
from .limits import DEFAULT
from .orders import read_orders
from .products import product_names, read_products
from .schema import among
from .source import hashed, read_json
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
        Hides in the order of their file names; the hashes of all files that were read.

    Raises
    ------
    FileError
        For every fault in any of the files.
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise FileError(folder, "folder", "not found" if not folder.exists() else "not a folder", FOLDER)
    with hashed() as read:
        job = _job(folder)
    return replace(job, made_from={path.relative_to(folder).as_posix(): found for path, found in sorted(read.items())})


def _job(folder: Path) -> Job:
    faults = Faults()
    for name in ("workshop.toml", "products.toml", "orders.csv"):
        if not (folder / name).exists():
            faults.found.append(FileError(folder / name, "file", "not found", FOLDER))
    workshop: Workshop | None = None
    products: tuple[Product, ...] = ()
    names: Collection[str] | None = None
    orders: tuple[OrderLine, ...] = ()
    hides: tuple[Hide, ...] = ()
    if (folder / "workshop.toml").exists():
        with faults.gathered():
            workshop = read_workshop(folder / "workshop.toml")
    if (folder / "products.toml").exists():
        names = product_names(folder / "products.toml")
        with faults.gathered():
            products = read_products(folder / "products.toml", workshop)
            names = [product.name for product in products]
    if (folder / "orders.csv").exists():
        with faults.gathered():
            orders = read_orders(folder / "orders.csv", names)
            check_orders(folder / "orders.csv", orders, products)
    with faults.gathered():
        hides = _hides(folder / "hides", workshop.prices.currency if workshop else "")
    faults.tell()
    assert workshop is not None  # or its fault would have been told
    return Job(workshop, products, hides, orders)


def read_making(folder: Path) -> tuple[Workshop, tuple[Product, ...]]:
    """What a job folder says of its workshop and of what it makes.

    Raises
    ------
    FileError
        For every fault in either file.
    """
    faults = Faults()
    workshop: Workshop | None = None
    products: tuple[Product, ...] = ()
    with faults.gathered():
        workshop = read_workshop(folder / "workshop.toml")
    with faults.gathered():
        products = read_products(folder / "products.toml", workshop)
    faults.tell()
    assert workshop is not None  # or its fault would have been told
    return workshop, products


def check_orders(path: Path, orders: Sequence[OrderLine], products: Sequence[Product]) -> None:
    """Refuse no orders, orders of what is not made, and such as are no work of one run.

    Raises
    ------
    FileError
    """
    if not orders:
        raise FileError(path, "row 2", "no orders", "add a row for each product ordered")
    copies = {
        product.name: sum(part.count * (1 + part.mirrored_twin) for part in product.parts) for product in products
    }
    for line in orders:
        if products and line.product not in copies:
            mend = among(copies, line.product, "products")
            raise FileError(path, f"order {line.order} > product", line.product, mend)
    total = sum(line.quantity * copies.get(line.product, 1) for line in orders)
    if total > DEFAULT.most_parts:
        mend = f"order at most {DEFAULT.most_parts} parts in one run"
        raise FileError(path, "quantity", f"{total} parts in all", mend)


def _hides(folder: Path, currency: str) -> tuple[Hide, ...]:
    # Hidden files are left out: some systems put a "._name.json" beside every file on a shared disk.
    paths = sorted(path for path in folder.glob("*.json") if not path.name.startswith("."))
    if not paths:
        raise FileError(folder, "folder", "no hides", "trace a photo into it, or write a .json file for each hide")
    hides: list[Hide] = []
    homes: dict[str, Path] = {}
    faults = Faults()
    for path in paths:
        with faults.gathered():
            data = read_json(path)
            name = data.get("id") if isinstance(data, dict) else None
            # Some systems do not tell capitals apart in file names, and files are named after hides.
            first = homes.setdefault(name.lower(), path) if isinstance(name, str) else path
            if first != path:
                mend = f"{first.name} has the same id (capitals do not count): change one"
                faults.found.append(FileError(path, "id", name, mend))
            hides.append(_plainer(path, hide_from_dict(data, path, "", currency)))
    faults.tell()
    return tuple(hides)


def copy_job(source: Path, to: Path) -> None:
    """Copy the plain files of a job folder; what is there already is left as it is."""
    for path in sorted(source.rglob("*")):
        target = to / path.relative_to(source)
        if path.is_file() and path.suffix in (".toml", ".csv", ".json", ".svg", ".jpg") and not target.exists():
            write_bytes(target, path.read_bytes())


def _plainer(path: Path, hide: Hide) -> Hide:
    """A hide with an outline of no more points than planning needs, which lies within its own."""
    count = shapely.get_num_coordinates(hide.outline)
    if count <= DEFAULT.fine_hide_points:
        return hide
    within, fewest = detail_mm(hide.outline), DEFAULT.fine_hide_points
    untold = within
    while within < DEFAULT.most_smoothing_mm and plain_corners(hide.outline, within) > fewest:
        within = min(4 * within, DEFAULT.most_smoothing_mm)
    if plain_corners(hide.outline, within) > fewest:
        mend = f"smooth the edge: a line within {within:g} mm of it needs no more than {fewest} points"
        raise FileError(path, "outline", f"{count} points, most of them teeth or spikes", mend)
    outline = plainer(hide.outline, within, outward=False)
    smoothed = Smoothed(within, round(hide.outline.area - outline.area, 2)) if within > untold else None
    return replace(hide, outline=outline, smoothed=smoothed)
