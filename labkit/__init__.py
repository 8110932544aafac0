"""labkit: a motor-control trainer board as a library, and the lessons on it.

``import labkit as lk`` gives the few names that lessons use. Each is loaded on first use, so that the
import itself stays light (no numpy, no matplotlib, no widgets).
"""

from __future__ import annotations

import importlib
from typing import Any

__version__ = "0.1.0"

# name -> the room whose door it stands at
_DOORS: dict[str, str] = {
    "LabkitError": "labkit.base",
    "ms": "labkit.base",
    "s": "labkit.base",
    "us": "labkit.base",
}

__all__ = ["load_ipython_extension", *sorted(_DOORS)]  # noqa: PLE0604 - strings, from the table above


def __getattr__(name: str) -> Any:
    if name in _DOORS:
        value = getattr(importlib.import_module(_DOORS[name]), name)
        globals()[name] = value
        return value
    raise AttributeError(f"labkit has no name {name!r}; it has {', '.join(sorted(_DOORS))}")


def __dir__() -> list[str]:
    return sorted([*globals(), *_DOORS])


def load_ipython_extension(ipython: Any) -> None:
    """Called by ``%load_ext labkit``: registers the cell magics."""
    from labkit.notebook.magics import load_ipython_extension as load

    load(ipython)
