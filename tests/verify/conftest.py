"""The helpers of this folder, under names that tests can import."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

for _name in ("slow", "unrolled", "circuits", "generated", "outside"):
    _path = Path(__file__).with_name(f"{_name}.py")
    _spec = importlib.util.spec_from_file_location(f"verify_{_name}", _path)
    assert _spec is not None
    assert _spec.loader is not None
    _module = importlib.util.module_from_spec(_spec)
    sys.modules[_spec.name] = _module
    _spec.loader.exec_module(_module)
