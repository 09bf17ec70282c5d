"""Commands about single parts of the layout at hand: they stay, are let go, or are made again."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperCommand

from ...errors import FileError
from .arguments import JobFolder

Order = Annotated[str, typer.Argument(metavar="ORDER", help="Order, as in orders.csv.")]
SomeOrder = Annotated[str, typer.Argument(metavar="[ORDER]", help="Order, as in orders.csv.")]
SomePart = Annotated[str, typer.Argument(metavar="[PART]", help="Only this part, as in products.toml.")]
OfProduct = Annotated[str, typer.Option("--product", help="Only of this product.")]
Piece = Annotated[int | None, typer.Option(min=1, help="Only of this piece of the order, from 1.")]
Copy = Annotated[int | None, typer.Option("--copy", min=1, help="Only this copy of the part in its piece, from 1.")]
Mirrored = Annotated[
    bool | None, typer.Option("--mirrored/--as-drawn", help="Only mirrored twins, or only what is no twin.")
]
On = Annotated[str, typer.Option("--on", metavar="HIDE[/PANEL]", help="Only on this hide or panel.")]


class InFolder(TyperCommand):
    """A command about the current folder: says so where a job folder is named as others take it."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        first = args[0] if args else ""
        named = any(word.partition("=")[0] == "--folder" for word in args)
        if first and not named and (Path(first) / "workshop.toml").is_file():
            instead = f"{ctx.command_path} {shlex.join([*args[1:], '--folder', first])}"
            mend = f"that is a job folder, and this works on the current one; for another: {instead}"
            raise FileError(ctx.info_name or "", "order", first, mend)
        return super().parse_args(ctx, args)


def pin_command(
    order: SomeOrder = "",
    part: SomePart = "",
    product: OfProduct = "",
    piece: Piece = None,
    copy: Copy = None,
    mirrored: Mirrored = None,
    on: On = "",
    folder: JobFolder = Path(),
) -> None:
    """Keep parts of the layout at hand where they lie, in every further plan: all, or those named."""
    from ..actions.hands import Which
    from ..terminal.hands import run_pin

    run_pin(folder, Which(order, part, product, piece, copy, on, mirrored), True)


def unpin_command(
    order: SomeOrder = "",
    part: SomePart = "",
    product: OfProduct = "",
    piece: Piece = None,
    copy: Copy = None,
    mirrored: Mirrored = None,
    on: On = "",
    folder: JobFolder = Path(),
) -> None:
    """Let parts that were pinned be moved again: all, or those named."""
    from ..actions.hands import Which
    from ..terminal.hands import run_pin

    run_pin(folder, Which(order, part, product, piece, copy, on, mirrored), False)


def again_command(
    order: Order,
    part: Annotated[str, typer.Argument(metavar="PART", help="The part that was spoiled, as in products.toml.")],
    product: OfProduct = "",
    piece: Piece = None,
    copy: Copy = None,
    mirrored: Mirrored = None,
    on: On = "",
    folder: JobFolder = Path(),
) -> None:
    """Say that a part was spoiled at the machine: the next plan makes it again; its panel counts as burnt."""
    from ..actions.hands import Which
    from ..terminal.hands import run_again

    run_again(folder, Which(order, part, product, piece, copy, on, mirrored))
