"""The floor table holds: no import points up, the core stays light."""

from __future__ import annotations

import ast
import inspect
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "labkit"

# The same table stands in README.md and DEVELOPERS.md (test below).
FLOORS: tuple[tuple[str, ...], ...] = (
    ("base",),
    ("circuit", "logic"),
    ("board", "controller"),
    ("bench",),
    ("faults", "panel"),
    ("verify", "plots"),
    ("lessons",),
    ("notebook",),
    ("cli",),  # above notebook: `labkit lab` starts JupyterLab through it
)
FLOOR_OF = {room: floor for floor, rooms in enumerate(FLOORS) for room in rooms}
ROOMS = sorted(
    p.name for p in PACKAGE.iterdir() if p.is_dir() and (p / "__init__.py").exists() and not p.name.startswith("_")
)


def imports_of(path: Path) -> list[tuple[int, str]]:
    """Line and labkit room of each import in a file, wherever in the file it stands."""
    found = []
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            names = [node.module] if node.module != "labkit" else [f"labkit.{a.name}" for a in node.names]
        else:
            continue
        found += [(node.lineno, name.split(".")[1]) for name in names if name.startswith("labkit.")]
    return found


def python_files(room: str) -> list[Path]:
    return sorted((PACKAGE / room).rglob("*.py"))


def test_every_room_has_a_floor() -> None:
    assert [room for room in ROOMS if room not in FLOOR_OF] == []


@pytest.mark.parametrize("room", ROOMS)
def test_no_import_points_up_or_sideways(room: str) -> None:
    wrong = [
        f"{path.relative_to(ROOT)}:{line} imports labkit.{other}"
        for path in python_files(room)
        for line, other in imports_of(path)
        if other in FLOOR_OF and other != room and FLOOR_OF[other] >= FLOOR_OF[room]
    ]
    assert wrong == []


@pytest.mark.parametrize("room", [r for r in ROOMS if FLOOR_OF.get(r, 9) < FLOOR_OF["panel"]])
def test_no_room_below_the_panel_imports_a_socket(room: str) -> None:
    banned = {"socket", "socketserver", "asyncio.streams", "http", "urllib", "requests", "pymodbus"}
    wrong = []
    for path in python_files(room):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            names = []
            if isinstance(node, ast.Import):
                names = [a.name for a in node.names]
            elif isinstance(node, ast.ImportFrom) and node.module:
                names = [node.module]
            wrong += [f"{path.relative_to(ROOT)}:{node.lineno} imports {n}" for n in names if n.split(".")[0] in banned]
    assert wrong == []


def modules_after(statement: str) -> set[str]:
    code = f"{statement}\nimport sys\nprint('\\n'.join(sys.modules))"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    return set(out.stdout.split())


def test_import_labkit_is_light() -> None:
    loaded = modules_after("import labkit")
    assert not loaded & {"numpy", "matplotlib", "IPython", "ipywidgets", "anywidget", "pydantic"}


def test_the_core_brings_in_no_notebook_and_no_drawing() -> None:
    core = [room for room in ROOMS if FLOOR_OF.get(room, 9) <= FLOOR_OF["verify"] and room != "plots"]
    loaded = modules_after("\n".join(f"import labkit.{room}" for room in core))
    assert not loaded & {
        "matplotlib",
        "IPython",
        "ipywidgets",
        "anywidget",
        "labkit.notebook",
        "labkit.plots",
    }


def test_plots_does_not_need_pyplot_to_be_imported() -> None:
    assert "matplotlib.pyplot" not in modules_after("import labkit.plots")


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_the_floor_table_in_the_documents_is_this_one(document: str) -> None:
    text = (ROOT / document).read_text("utf-8")
    for number, rooms in enumerate(FLOORS):
        here = [room for room in rooms if room in ROOMS]
        if here:
            line = next((ln for ln in text.splitlines() if ln.startswith(f"floor {number} ")), "")
            assert line.split()[2:] == here, f"{document}: floor {number} should list {here}, says {line!r}"


def test_nothing_else_lies_at_the_top() -> None:
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "notebooks",
        "labkit",
        "tests",
        "datasets",
        "docs",
        "LICENSE",
    }
    listed = subprocess.run(["git", "ls-files"], capture_output=True, text=True, check=True, cwd=ROOT).stdout.split(
        "\n"
    )
    tops = {line.split("/")[0] for line in listed if line}
    assert {top for top in tops if not top.startswith(".")} <= allowed


def test_every_public_name_has_a_docstring() -> None:
    import importlib

    missing = []
    for room in ROOMS:
        module = importlib.import_module(f"labkit.{room}")
        for name in getattr(module, "__all__", ()):
            value = getattr(module, name)
            documented = inspect.isclass(value) or inspect.isfunction(
                value
            )  # an alias of a type has no text of its own
            if documented and not (value.__doc__ or "").strip():
                missing.append(f"labkit.{room}.{name}")
    assert missing == []


def _callables(value: object) -> list[tuple[str, object, str]]:
    """A public function, or the public methods that a class of labkit defines; with the class's own words."""
    if inspect.isfunction(value):
        return [("", value, "")]
    if not inspect.isclass(value):
        return []
    own = [(name, found.fget if isinstance(found, property) else found) for name, found in vars(value).items()]
    return [(f".{n}", f, value.__doc__ or "") for n, f in own if inspect.isfunction(f) and not n.startswith("_")]


def _raises(function: object) -> set[str]:
    """The names of the errors that stand in a function's own body."""
    tree = ast.parse(inspect.cleandoc("\n" + inspect.getsource(function)))  # type: ignore[arg-type]
    found = (node.exc for node in ast.walk(tree) if isinstance(node, ast.Raise) and node.exc is not None)
    names = {ast.unparse(exc.func if isinstance(exc, ast.Call) else exc).rpartition(".")[2] for exc in found}
    return {name for name in names if name.endswith("Error")}


def test_every_public_name_says_what_it_raises() -> None:
    import importlib

    silent, tried = [], 0
    for room in ROOMS:
        module = importlib.import_module(f"labkit.{room}")
        for name in getattr(module, "__all__", ()):
            value = getattr(module, name)
            if not str(getattr(value, "__module__", "")).startswith("labkit."):
                continue
            for member, function, around in _callables(value):
                said = (inspect.getdoc(function) or "") + around
                tried += 1
                if _raises(inspect.unwrap(function)) and "aises" not in said:  # type: ignore[arg-type]
                    silent.append(f"labkit.{room}.{name}{member}")
    assert tried > 500
    assert silent == []
