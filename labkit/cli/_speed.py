"""``labkit speed``: ratios measured side by side in one run, never a bare time."""

from __future__ import annotations

import importlib
import json
import statistics
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import click
from rich.console import Console
from rich.table import Table

from labkit.base import LabkitError, write_atomic

__all__ = ["bounds", "measure", "measure_browser", "speed"]

# Each room that claims a speed measures it in its own `_speed.rows(quick)`; `_speed.BOUNDS` says what it should be.
_MEASURED_IN = (
    "labkit.logic._speed",
    "labkit.circuit._speed",
    "labkit.bench._speed",
    "labkit.faults._speed",
    "labkit.verify._speed",
    "labkit.lessons._speed",
)
_IMPORT = {"import_labkit_vs_numpy": (3.0, 1.5)}


def _import_rows(quick: bool) -> list[dict[str, Any]]:
    """Whole processes in turn: ``import labkit`` and ``import numpy``, each less the bare interpreter."""

    def seconds(statement: str) -> float:
        start = time.perf_counter()
        subprocess.run([sys.executable, "-c", statement], check=True)
        return time.perf_counter() - start

    ratios, ours, other = [], [], []
    for _ in range(5 if quick else 15):
        a, b = seconds("import labkit"), seconds("import numpy")
        ours.append(a)
        other.append(b)
        ratios.append(a / b)
    ((key, (floor, aim)),) = _IMPORT.items()
    return [
        {
            "key": key,
            "ratio": statistics.median(ratios),
            "floor": floor,
            "aim": aim,
            "lower_is_better": True,
            "ours": f"{statistics.median(ours) * 1e3:.0f} ms",
            "other": f"{statistics.median(other) * 1e3:.0f} ms",
            "note": "whole process, import labkit / import numpy; smaller is better",
        }
    ]


def bounds() -> dict[str, tuple[float, float]]:
    """Floor and aim of every row that :func:`measure` gives, by its key; nothing is measured."""
    found: dict[str, tuple[float, float]] = {}
    for module in _MEASURED_IN:
        found |= importlib.import_module(module).BOUNDS
    return found | _IMPORT


def measure(quick: bool = False) -> list[dict[str, Any]]:
    """Every row, in one run. A missing outside tool gives a row whose ratio is ``None`` and a note that says so.

    Raises
    ------
    RuntimeError
        If the rows are not those of :func:`bounds`: then the page that lists them would be wrong.
    """
    rows: list[dict[str, Any]] = []
    for module in _MEASURED_IN:
        rows += importlib.import_module(module).rows(quick)
    rows += _import_rows(quick)
    if {row["key"]: (row["floor"], row["aim"]) for row in rows} != bounds():
        raise RuntimeError("a measured row has no bounds of its own, or a bound has no row")
    return rows


def measure_browser(quick: bool = False) -> list[dict[str, Any]]:
    """The rows that need JupyterLab and a browser; times and loads of this machine, smaller is better.

    Raises
    ------
    LabkitError
        If JupyterLab, playwright or Chromium is missing; it says how to get it.
    """
    try:
        door = importlib.import_module("labkit.notebook._speed")
    except ImportError as missing:
        raise LabkitError(
            f"JupyterLab is not installed here ({missing.name} is missing)",
            try_this="pip install 'labkit[notebook]'",
            where=f"the package {missing.name}",
            code="extra-missing",
        ) from None
    rows: list[dict[str, Any]] = door.rows(quick)
    return rows


def verdict(row: dict[str, Any]) -> str:
    """``aim met``, ``floor met``, ``below floor`` or ``not measured``."""
    ratio = row["ratio"]
    if ratio is None:
        return "not measured"
    if row.get("lower_is_better"):
        return "aim met" if ratio <= row["aim"] else "floor met" if ratio <= row["floor"] else "below floor"
    return "aim met" if ratio >= row["aim"] else "floor met" if ratio >= row["floor"] else "below floor"


def _shown(value: object) -> str:
    """Text as it is; a bare number of seconds in the unit that suits it."""
    if not isinstance(value, float):
        return str(value or "")
    for unit, size in (("s", 1.0), ("ms", 1e-3), ("us", 1e-6)):
        if value >= size:
            return f"{value / size:.3g} {unit}"
    return f"{value * 1e9:.3g} ns"


@click.command()
@click.option("--quick", is_flag=True, help="Fewer repetitions: a look, not a quotable figure.")
@click.option("--json", "json_file", type=click.Path(path_type=Path), help="Also write one flat JSON object.")
@click.option("--browser", is_flag=True, help="Press to lamp and kernel load in JupyterLab, instead of the ratios.")
def speed(quick: bool, json_file: Path | None, browser: bool) -> None:
    """Print measured ratios: labkit beside general-purpose tools, in one run."""
    rows = measure_browser(quick) if browser else measure(quick)
    title = "Measured in a browser on this machine" if browser else "Ratios measured side by side in this run"
    table = Table(title=title + (" (quick)" if quick else ""))
    for heading in ("key", "ratio", "floor", "aim", "verdict", "labkit", "beside it", "note"):
        table.add_column(heading, overflow="fold")
    for row in rows:
        ratio = (
            "-" if row["ratio"] is None else f"{row['ratio']:,.3g}" if row["ratio"] < 1000 else f"{row['ratio']:,.0f}"
        )
        cells = [row["key"], ratio, f"{row['floor']:g}", f"{row['aim']:g}", verdict(row)]
        table.add_row(*cells, *(_shown(row.get(k)) for k in ("ours", "other", "note")))
    Console(width=None if sys.stdout.isatty() else 160).print(table)
    if json_file:
        flat = {row["key"]: row["ratio"] for row in rows}
        write_atomic(json_file, json.dumps(flat, indent=1, sort_keys=True) + "\n")
        click.echo(f"wrote {json_file}")
