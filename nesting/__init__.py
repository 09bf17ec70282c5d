"""From a shelf of hides and a week's orders to cut-ready, costed bed loads with little leather wasted.

job = nesting.read_job("week")
layout = nesting.plan(job, nesting.Stop(seconds=20))
print(nesting.check(layout))
nesting.plot(layout)
nesting.export(layout, "week/out/cut")
"""

from importlib import import_module

_HOMES = {
    "Book": "book.book",
    "Cancel": "engine",
    "Hide": "model",
    "Job": "model",
    "Layout": "model",
    "Part": "model",
    "Placement": "model",
    "PlanLimits": "planning.limits",
    "Stop": "engine",
    "Workshop": "model",
    "check": "referee.rules",
    "compare": "costs.choices",
    "export": "laser.export",
    "figures": "costs.figures",
    "keep": "planning.keeping",
    "plan": "planning.plan",
    "plot": "report.drawing",
    "prepare": "planning.prepare",
    "read_job": "files.job",
    "read_layout": "files.layout",
    "trace": "tracing",
    "write_layout": "files.layout",
}
__all__ = sorted(_HOMES)


def __getattr__(name: str) -> object:
    """Public names, loaded when first used so that ``import nesting`` is quick."""
    if name not in _HOMES:
        raise AttributeError(f"module 'nesting' has no attribute {name!r}")
    value = getattr(import_module(f".{_HOMES[name]}", __name__), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """The public names, for completion in a notebook."""
    return __all__
