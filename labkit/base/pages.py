"""Pages made from a room's own templates: whatever is put in is escaped, a name that is missing is an error."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import jinja2

__all__ = ["page_template"]


@cache
def _pages(package: str) -> jinja2.Environment:
    import jinja2

    return jinja2.Environment(
        loader=jinja2.PackageLoader(package, "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def page_template(package: str, name: str) -> jinja2.Template:
    """The template `name` in the folder ``templates`` of a package such as ``labkit.lessons``."""
    return _pages(package).get_template(name)
