"""ngspice inside this process, for comparing with a general simulator; no part of labkit needs it to work.

The shared library is driven through its documented C interface (ngspice manual, chapter "ngspice as shared
library"). One process holds one instance, so the loaded library is kept.
"""

from __future__ import annotations

import ctypes
import ctypes.util
import functools
from collections.abc import Iterable

from labkit.circuit.errors import CircuitError

__all__ = ["Ngspice", "ngspice"]

_LINE = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_void_p)
_EXIT = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_int, ctypes.c_bool, ctypes.c_bool, ctypes.c_int, ctypes.c_void_p)


class _Complex(ctypes.Structure):
    _fields_ = (("re", ctypes.c_double), ("im", ctypes.c_double))


class _Vector(ctypes.Structure):
    _fields_ = (
        ("name", ctypes.c_char_p),
        ("type", ctypes.c_int),
        ("flags", ctypes.c_short),
        ("real", ctypes.POINTER(ctypes.c_double)),
        ("complex", ctypes.POINTER(_Complex)),
        ("length", ctypes.c_int),
    )


class Ngspice:
    """The loaded library: give it a netlist, run it, read values.

    Raises
    ------
    CircuitError
        If no ngspice library is installed.
    """

    def __init__(self) -> None:
        path = ctypes.util.find_library("ngspice")
        if path is None:
            raise CircuitError(
                "ngspice's shared library is not installed",
                try_this="install libngspice0 (Debian, Ubuntu)",
                code="circuit-no-ngspice",
            )
        self._lib = ctypes.CDLL(path)
        self._lib.ngGet_Vec_Info.restype = ctypes.POINTER(_Vector)
        self._said: list[str] = []
        # kept alive here: the library calls them for as long as it is loaded
        self._line = _LINE(self._hear)
        self._exit = _EXIT(lambda *_: 0)
        self._lib.ngSpice_Init(self._line, self._line, self._exit, None, None, None, None)

    def _hear(self, text: bytes, _number: int, _user: object) -> int:
        self._said.append(text.decode("utf-8", "replace"))
        return 0

    @property
    def said(self) -> str:
        """What it printed since the last :meth:`load`."""
        return "\n".join(self._said)

    def load(self, netlist: str) -> None:
        """Read a netlist; the one before is dropped."""
        self._said.clear()
        self.tell("remcirc")
        self._said.clear()
        lines = [line.encode() for line in netlist.splitlines() if line and not line.startswith("*")]
        array = (ctypes.c_char_p * (len(lines) + 2))(b"* labkit", *lines, None)
        self._lib.ngSpice_Circ(array)

    def tell(self, command: str) -> int:
        """Carry out one command; 0 if it went well."""
        return int(self._lib.ngSpice_Command(command.encode()))

    def forget(self) -> None:
        """Drop the results so far; they pile up and slow it down."""
        self.tell("destroy all")

    def operate(self) -> bool:
        """Find the operating point; whether it converged."""
        self._said.clear()
        self.tell("op")
        text = self.said.lower()
        return not any(word in text for word in ("no convergence", "aborted", "singular", "error"))

    def value(self, name: str) -> float:
        """One figure of the last operating point, such as ``"n3"`` or ``"@r5[i]"``.

        Raises
        ------
        CircuitError
            If ngspice has no such figure.
        """
        vector = self._lib.ngGet_Vec_Info(name.encode())
        if not vector or not vector.contents.length:
            raise CircuitError(
                f"ngspice has no value {name}", try_this="run an operating point first", code="circuit-ngspice"
            )
        return float(vector.contents.real[0])

    def values(self, names: Iterable[str]) -> list[float]:
        """Several figures, as :meth:`value`."""
        return [self.value(name) for name in names]


@functools.cache
def ngspice() -> Ngspice:
    """The one instance of this process.

    Raises
    ------
    CircuitError
        If no ngspice library is installed.
    """
    return Ngspice()
