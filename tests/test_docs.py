"""The docs' examples run, and no link leads nowhere."""

from __future__ import annotations

import doctest
import re
from itertools import chain
from pathlib import Path

import click
import pytest

from labkit.cli import commands

ROOT = Path(__file__).resolve().parent.parent
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]
LINK = re.compile(r"!?\[[^\]]*\]\(([^)#\s]+)")


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_links_lead_somewhere(page: Path) -> None:
    targets = [t for t in LINK.findall(page.read_text("utf-8")) if "://" not in t]
    assert [t for t in targets if not (page.parent / t).exists()] == []


def test_every_page_can_be_reached_from_the_index() -> None:
    index = (ROOT / "docs" / "index.md").read_text("utf-8")
    pages = [
        str(p.relative_to(ROOT / "docs")) for p in PAGES if p.is_relative_to(ROOT / "docs") and p.name != "index.md"
    ]
    assert [page for page in pages if page not in index] == []


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_option_on_a_page_is_the_command_s_own(page: Path) -> None:
    text = page.read_text("utf-8").replace("\\\n", " ")
    unknown = []
    for name, rest in re.findall(r"labkit (\w+)((?: [^\n`|]*)?)", text):
        if name in commands.commands:
            options = [p for p in commands.commands[name].params if isinstance(p, click.Option)]
            known = set(chain.from_iterable((*o.opts, *o.secondary_opts) for o in options))
            unknown += [f"labkit {name} {o}" for o in re.findall(r"(?<=\s)--[a-z][\w-]*", rest) if o not in known]
    assert unknown == []


def test_the_readme_lists_the_commands_and_the_notebooks_that_there_are() -> None:
    text = (ROOT / "README.md").read_text("utf-8")
    assert re.findall(r"^\| `labkit (\w+)`", text, flags=re.M) == list(commands.commands)
    notebooks = sorted(path.stem for path in (ROOT / "notebooks").glob("*.ipynb"))
    assert re.findall(r"^\| `(\d\d-[\w-]+)`", text, flags=re.M) == notebooks
    keys = {path.stem.removesuffix("-key") for path in (ROOT / "notebooks" / "instructor").glob("*.ipynb")}
    assert keys == set(notebooks) - {"00-start-here"}


def test_developers_find_the_files_that_they_are_sent_to() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    rooms = re.findall(r"^\| `(\w+)` \| .* \| `([\w.]+)` \|$", text, flags=re.M)
    assert len(rooms) == len({p.parent.name for p in (ROOT / "labkit").glob("*/__init__.py")})
    assert [room for room, first in rooms if not (ROOT / "labkit" / room / first).exists()] == []
    named = re.findall(r"`(?:python )?((?:labkit|tests|docs|datasets)/[\w./-]+)`", text)
    assert len(named) > 20
    made = {"labkit/_data"}  # in a wheel only
    assert [name for name in named if name not in made and not (ROOT / name).exists()] == []


def test_every_check_value_says_where_it_comes_from() -> None:
    """SOURCES.md has one row for each file of tests/truth, none for a file that is gone, and each is used by a test."""
    truth = ROOT / "tests" / "truth"
    text = (truth / "SOURCES.md").read_text("utf-8")
    rows = [
        [cell.strip() for cell in line.strip("|").split("|")] for line in text.splitlines() if line.startswith("| ")
    ]
    listed = [row[0] for row in rows[1:]]
    assert all(len(row) == 4 and all(row) for row in rows)
    here = [path for path in truth.rglob("*") if path.suffix in (".csv", ".toml")]
    loose = [path.name for path in here if not any(path.match(f"truth/{name}") for name in listed)]
    assert loose == []
    assert [name for name in listed if not any(path.match(f"truth/{name}") for path in here)] == []
    tests = "\n".join(path.read_text("utf-8") for path in (ROOT / "tests").rglob("*.py"))
    assert [path.name for path in truth.glob("*.csv") if path.name not in tests] == []


def _python_of(page: str) -> list[str]:
    return re.findall(r"```python\n(.*?)```", (ROOT / "docs" / page).read_text("utf-8"), flags=re.S)


def test_the_example_of_the_drawings_page_runs() -> None:
    import labkit as lk

    bench = lk.Bench("orchard")
    bench.power_up()
    bench.load("K1 := S1 AND (S2 OR K1_A);")
    (example,) = _python_of("reference/drawings.md")
    exec(compile(example, "drawings.md", "exec"), {"lk": lk, "bench": bench, "timing": lk.timing})


def test_the_examples_of_the_marking_page_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "handins").mkdir()
    torn = ROOT / "datasets" / "handins" / "seal-in--torn.json"
    (tmp_path / "handins" / torn.name).write_bytes(torn.read_bytes())
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    for example in _python_of("how-to/mark-a-class.md"):
        exec(compile(example, "mark-a-class.md", "exec"), names)
    (outcome,) = names["outcomes"]  # type: ignore[misc]
    assert outcome.status == "unreadable"  # type: ignore[has-type]
    assert names["exit_code"](names["outcomes"]) == 1  # type: ignore[operator]
    assert (tmp_path / "autumn.csv").exists()


def test_the_examples_of_the_live_bench_page_run() -> None:
    """Without a kernel's magics: what is called and named there is there."""
    import labkit as lk
    from labkit.notebook import console

    page = (ROOT / "docs" / "how-to" / "work-the-live-bench.md").read_text("utf-8")
    first, panel = _python_of("how-to/work-the-live-bench.md")
    names: dict[str, object] = {}
    exec(compile(first.replace("%load_ext labkit", ""), "work-the-live-bench.md", "exec"), names)
    exec(compile(panel, "work-the-live-bench.md", "exec"), names)
    bench = names["bench"]
    for call in re.findall(r"`lk\.(\w+)\(", page):
        assert hasattr(lk, call), call
    hub = console(bench)
    assert [name for name in ("pause", "start", "set_speed", "stop") if not callable(getattr(hub, name, None))] == []
    hub.stop()


def test_the_tutorial_runs_as_written() -> None:
    result = doctest.testfile(str(ROOT / "docs" / "tutorials" / "first-bench.md"), module_relative=False)
    assert result.attempted > 15
    assert result.failed == 0


def test_the_readme_example_runs(capsys: pytest.CaptureFixture[str]) -> None:
    text = (ROOT / "README.md").read_text("utf-8")
    (example,) = re.findall(r"```python\n(.*?)```", text, flags=re.S)
    names: dict[str, object] = {}
    exec(compile(example, "README.md", "exec"), names)
    assert names["bench"].bit("K1") is True  # type: ignore[attr-defined]
    said = example.rstrip().rpartition("# ")[2]  # what the page says of its last line
    assert capsys.readouterr().out.splitlines()[-1] == said


def test_the_example_on_proof_ends_as_it_says() -> None:
    (example,) = _python_of("explanation/proof.md")
    body, _, last = example.rstrip().rpartition("\n")
    call, _, said = last.partition("#")
    names: dict[str, object] = {}
    exec(compile(f"{body}\nverdict = {call}", "proof.md", "exec"), names)
    assert str(names["verdict"]) == said.strip()
