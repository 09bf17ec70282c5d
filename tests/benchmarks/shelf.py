"""A job folder with many hides, made of the demo's: scaled, turned about and priced by area; compare it or plan it.

python tests/benchmarks/shelf.py data FOLDER --hides 60 --times 3
"""

from __future__ import annotations

import argparse
import json
import random
import shutil
from pathlib import Path


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("source", type=Path)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--hides", type=int, default=60)
    parser.add_argument("--times", type=int, default=3, help="how often every order line is repeated")
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    options.folder.mkdir(parents=True)
    for name in ("workshop.toml", "products.toml"):
        shutil.copy(options.source / name, options.folder / name)
    shutil.copytree(options.source / "patterns", options.folder / "patterns")
    (options.folder / "hides").mkdir()
    chance, files = random.Random(options.seed), sorted((options.source / "hides").glob("*.json"))
    for number in range(options.hides):
        file = files[number % len(files)]
        hide = json.loads(file.read_text())
        scale = chance.uniform(0.35, 1.1)
        hide["id"] = f"{file.stem}-{number}"
        hide["price"] = f"{float(hide.get('price') or 40) * scale * scale * chance.uniform(0.8, 1.25):.2f}"
        (options.folder / "hides" / f"{hide['id']}.json").write_text(json.dumps(_scaled(hide, scale)))
    head, *lines = (options.source / "orders.csv").read_text().splitlines()
    rows = [f"{number}-{line}" for number in range(options.times) for line in lines]
    (options.folder / "orders.csv").write_text("\n".join([head, *rows]) + "\n")


def _scaled(value: object, scale: float) -> object:
    """The same with every point scaled: lists of two numbers, and ``x`` and ``y`` of readings."""
    if isinstance(value, list):
        if len(value) == 2 and all(isinstance(number, int | float) for number in value):
            return [number * scale for number in value]
        return [_scaled(item, scale) for item in value]
    if isinstance(value, dict):
        return {
            key: item * scale if key in ("x", "y") and isinstance(item, int | float) else _scaled(item, scale)
            for key, item in value.items()
        }
    return value


if __name__ == "__main__":
    main()
