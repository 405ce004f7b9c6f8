"""Templates of pages: every text is escaped, and a value that is missing is an error, not a gap."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jinja2 import Template


@cache
def template(name: str, room: str = "report") -> Template:
    """Return a template by its file name, from the folder ``templates`` of a room of `present`."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader(f"converter_match.present.{room}", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(name)
