"""The commands, in the order in which they are told: thin, each parses, calls the library and prints.

Each stands in the module that its line here names.
"""

from collections.abc import Callable
from typing import Any

import typer

from . import bed, begin, cameras, hands, hides, job, shop

COMMANDS: dict[str, Callable[..., Any]] = {
    "demo": begin.demo,
    "init": begin.init_command,
    "look": begin.look_command,
    "pattern": begin.pattern_command,
    "plan": job.plan_command,
    "check": job.check_command,
    "report": job.report_command,
    "compare": job.compare_command,
    "pin": hands.pin_command,
    "unpin": hands.unpin_command,
    "again": hands.again_command,
    "export": bed.export_command,
    "templates": bed.templates_command,
    "kerf": bed.kerf_command,
    "trace": hides.trace_command,
    "camera": hides.camera_command,
    "markers": hides.markers_command,
    "align": cameras.align_command,
    "trace-pattern": cameras.trace_pattern_command,
    "cut": shop.cut_command,
    "undo": shop.undo_command,
    "money": shop.money_command,
    "price": shop.price_command,
    "buy": shop.buy_command,
    "make": shop.make_command,
}
GROUPS = {
    "hide": hides.hide_app,
    "swatch": bed.swatch_app,
    "book": shop.book_app,
    "shelf": shop.shelf_app,
    "orders": shop.orders_app,
}
"""Commands of commands, such as `nesting hide to-svg`."""
WAYS = {"pin": hands.InFolder, "unpin": hands.InFolder, "again": hands.InFolder, "trace": hides.Numbers}
"""Commands that read their words in a way of their own."""

app = typer.Typer(
    help="From a shelf of hides and a week's orders to cut-ready, costed bed loads with little leather wasted.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
for _name, _command in COMMANDS.items():
    app.command(_name, cls=WAYS.get(_name))(_command)
for _name, _group in GROUPS.items():
    app.add_typer(_group, name=_name)
