"""The generators of this folder, under a name that tests can import."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

# importlib mode puts no folder on the path, and two rooms have a strategies.py: load ours by its file.
for _name in ("strategies", "engines"):
    _spec = importlib.util.spec_from_file_location(f"logic_{_name}", Path(__file__).with_name(f"{_name}.py"))
    assert _spec is not None
    assert _spec.loader is not None
    _module = importlib.util.module_from_spec(_spec)
    sys.modules[_spec.name] = _module
    _spec.loader.exec_module(_module)
