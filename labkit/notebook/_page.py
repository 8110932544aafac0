"""Files of the page side, and the still picture that stands in for a view without a kernel."""

from __future__ import annotations

import base64
from functools import cache
from html import escape
from pathlib import Path

__all__ = ["picture", "script", "sheet"]

_HERE = Path(__file__).resolve().parent


_EXPORT = "export default { render };"
_GUARDED = "export default { render: guarded(render) };"


@cache
def script(name: str, *helpers: str) -> str:
    """The module of one widget: the shared functions, its helpers, then its own file.

    Every widget's `render` is guarded: when the kernel goes, the view says so and lets go of everything.
    """
    texts = [(_HERE / f"{part}.js").read_text("utf-8") for part in ("common", *helpers, name)]
    assert _EXPORT in texts[-1], name
    return "\n".join(texts).replace(_EXPORT, _GUARDED)


@cache
def sheet(name: str) -> str:
    """The style rules of one widget: the shared sheet, then its own file."""
    return (_HERE / "common.css").read_text("utf-8") + "\n" + (_HERE / f"{name}.css").read_text("utf-8")


def picture(svg: str, alt: str) -> str:
    """An ``<img>`` that carries `svg` in itself.

    An untrusted notebook strips inline SVG but shows an image, and an image cannot run scripts.
    """
    data = base64.b64encode(svg.encode("utf-8")).decode("ascii")
    return f'<img alt="{escape(alt, quote=True)}" src="data:image/svg+xml;base64,{data}">'
