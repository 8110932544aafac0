"""``%load_ext labkit``: the cell magics ``%%ladder`` and ``%%st``, and errors without tracebacks."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from IPython.core.magic import Magics, cell_magic, magics_class
from IPython.core.magic_arguments import argument, magic_arguments, parse_argstring
from IPython.display import display

from labkit.base import LabkitError
from labkit.notebook._page import picture
from labkit.notebook.pictures import register

__all__ = ["Drawing", "NotYet", "ProgramMagics", "load_ipython_extension", "plain", "unload_ipython_extension"]


def plain(wrong: LabkitError) -> str:
    """An error as a student reads it: what is wrong, where (with the line and a caret, if known), what to try."""
    lines = [wrong.what]
    if wrong.where:
        lines.append(f"  where: {wrong.where}")
    caret = getattr(wrong, "caret", "")
    if caret and caret not in wrong.where and caret not in wrong.what:
        lines += [f"    {line}" for line in caret.splitlines()]
    if wrong.try_this:
        lines.append(f"  try:   {wrong.try_this}")
    return "\n".join(lines)


class NotYet:
    """Stands in the place of a program whose text has a slip: whoever uses it is told the slip again."""

    def __init__(self, name: str, text: str, slip: LabkitError) -> None:
        self._name, self._slip = name, slip
        self.text = text

    def __getattr__(self, attribute: str) -> Any:
        if attribute.startswith("_"):
            raise AttributeError(attribute)
        slip = self._slip
        raise LabkitError(
            f"{self._name} is not a program yet: {slip.what}", where=slip.where, try_this=slip.try_this, code=slip.code
        )

    def __repr__(self) -> str:
        return f"{self._name} is not a program yet: {self._slip.what}"


class Drawing:
    """A program's drawing as a cell result: a picture where pictures are shown, else the program's text."""

    def __init__(self, program: Any, svg: str) -> None:
        self._program, self._svg = program, svg

    def __repr__(self) -> str:
        count = len(self._program.rungs)
        return f"{self._program.name}: {count} {'rung' if count == 1 else 'rungs'}"

    def _repr_html_(self) -> str:
        return picture(self._svg, f"Ladder diagram of {self!r}\n{self._program.text}")


@magics_class
class ProgramMagics(Magics):
    """Programs as cells."""

    @magic_arguments()
    @argument("name", help="variable that receives the program")
    @argument("--quiet", action="store_true", help="read it, but show no drawing")
    @cell_magic
    def ladder(self, line: str, cell: str) -> None:
        """Read the cell as ladder text (IEC 61131-3, semigraphic)."""
        from labkit.logic import read_ladder

        self._read(parse_argstring(self.ladder, line), cell, read_ladder)

    @magic_arguments()
    @argument("name", help="variable that receives the program")
    @argument("--quiet", action="store_true", help="read it, but show no drawing")
    @cell_magic
    def st(self, line: str, cell: str) -> None:
        """Read the cell as Structured Text (IEC 61131-3)."""
        from labkit.logic import read_st

        self._read(parse_argstring(self.st, line), cell, read_st)

    def _read(self, arguments: Any, cell: str, read: Callable[..., Any]) -> None:
        name = arguments.name
        if not name.isidentifier():
            print(
                plain(LabkitError(f"{name!r} cannot be the name of a variable", try_this="use letters, digits and _"))
            )
            return
        try:
            program = read(cell, name=name)
        except LabkitError:
            slip = self._slip(cell, name, read)
            self._names()[name] = NotYet(name, cell, slip)
            print(plain(slip))
            return
        self._names()[name] = program
        if not arguments.quiet:
            self._show(program)

    @staticmethod
    def _slip(cell: str, name: str, read: Callable[..., Any]) -> LabkitError:
        """The slip with the lines counted as the cell shows them, the line of the magic being the first."""
        try:
            read("\n" + cell, name=name)
        except LabkitError as slip:
            return slip
        raise AssertionError("a blank line before a program changes whether it can be read")

    def _names(self) -> dict[str, Any]:
        assert self.shell is not None, "magics are registered at a shell"
        names: dict[str, Any] = self.shell.user_ns
        return names

    @staticmethod
    def _show(program: Any) -> None:
        from labkit.plots import ladder_svg

        display(Drawing(program, ladder_svg(program)))


def _show_error(shell: Any, kind: type, wrong: Any, trace: Any, tb_offset: int | None = None) -> list[str]:  # noqa: ARG001
    """Show the parts of a :class:`LabkitError`; it stays an error of the cell, so "run all" stops there."""
    lines = plain(wrong).splitlines()
    shell._showtraceback(kind, wrong, lines)
    return lines


def _after_cell(*_: object) -> None:
    from labkit.notebook._console import refresh_all

    refresh_all()


def load_ipython_extension(ipython: Any) -> None:
    """Register the magics, the plain error messages, and the views' look at what a cell changed."""
    ipython.register_magics(ProgramMagics)
    ipython.set_custom_exc((LabkitError,), _show_error)
    ipython.events.register("post_run_cell", _after_cell)
    register(ipython)


def unload_ipython_extension(ipython: Any) -> None:
    """Take back what :func:`load_ipython_extension` did, but for the magics, which stay."""
    ipython.set_custom_exc((), None)
    ipython.events.unregister("post_run_cell", _after_cell)
