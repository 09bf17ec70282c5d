"""From a shelf of hides and a week's orders to cut-ready, costed bed loads with little leather wasted."""

from importlib import import_module

_HOMES = {
    "Hide": "model", "Job": "model", "Layout": "model", "Part": "model", "Placement": "model", "Workshop": "model", "Zone": "model",
    "Stop": "engine.stop",
    "export": "laser.export",
    "figures": "report.figures",
    "read_job": "files.job",
    "read_layout": "files.layout",
    "trace_photo": "trace",
    "write_layout": "files.layout",
}
__all__ = sorted(_HOMES)


def __getattr__(name: str):
    """Public names, loaded when first used so that ``import nesting`` is quick.

    The functions of the modules check, compare and plan have their modules' names: ``from nesting.planning.plan import plan``.
    """
    if name not in _HOMES:
        raise AttributeError(f"module 'nesting' has no attribute {name!r}")
    value = getattr(import_module(f".{_HOMES[name]}", __name__), name)
    globals()[name] = value
    return value
