"""A page filled in from its template: what stands in it is text and never markup, and nothing in it may be missing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any


def filled(name: str, filters: Mapping[str, Callable[..., Any]], **given: Any) -> str:
    """The text of a page.

    Parameters
    ----------
    name : str
        Of a template in ``templates/``.
    filters : mapping of str to callable
        How it may write what is given.
    **given
        What it tells.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("nesting.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= filters
    return environment.get_template(name).render(given)
