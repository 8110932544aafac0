"""A board-like network for measuring: about 120 nodes, 24 switches, 16 curves; no particular board."""

from __future__ import annotations

from labkit.circuit.elements import Curve, Element, Resistor, Source, Switch, diode
from labkit.circuit.network import Circuit

__all__ = ["healthy_switches", "sample_board"]

# current against voltage of the three kinds of input: linear, with a current limit, with a series diode
CHANNELS = (
    ((-1.0, 0.0), (0.0, 0.0), (5.0, 0.0005), (11.0, 0.002), (30.0, 0.0031)),
    ((-1.0, 0.0), (0.0, 0.0), (8.0, 0.0026), (30.0, 0.0030)),
    ((0.0, 0.0), (1.5, 1e-6), (5.0, 0.0012), (30.0, 0.0090)),
)
CONTACT_OHM, WIRE_OHM, BAR_OHM = 0.03, 0.05, 0.001


class _Builder:
    def __init__(self) -> None:
        self.elements: list[Element] = []
        self.wires = 0

    def wire(self, a: str, b: str, ohm: float = WIRE_OHM) -> None:
        self.wires += 1
        self.elements.append(Resistor(f"W{self.wires}", a, b, ohm))

    def add(self, *elements: Element) -> None:
        self.elements.extend(elements)


def sample_board() -> Circuit:
    """A supply, 12 inputs by contacts, 8 outputs to coils and lamps, a two-wire sensor, two terminal bars."""
    board = _Builder()
    board.add(Source("G1", "G1:24V", "G1:0V", 24.0, 0.02, 2.0))
    board.wire("G1:0V", "PE", 0.01)
    for bar in ("24V", "0V"):
        board.wire(f"G1:{bar}", f"X1:{bar}.0", 0.01)
        for k in range(7):
            board.wire(f"X1:{bar}.{k}", f"X1:{bar}.{k + 1}", BAR_OHM)
    for k in range(12):
        device, point = f"S{k + 1}", f"A1:I{k + 1}"
        board.wire(f"X1:24V.{k % 8}", f"{device}:13")
        board.add(Switch(device, f"{device}:13", f"{device}:14", CONTACT_OHM))
        board.wire(f"{device}:14", f"X2:{k + 1}")
        board.wire(f"X2:{k + 1}", point)
        board.add(Curve(point, point, f"A1:IC{k // 6 + 1}", CHANNELS[k % 3]))
    for k in (1, 2):
        board.wire(f"X1:0V.{k}", f"A1:IC{k}")
    for group in "AB":
        fuse = f"F{group}"
        board.wire("X1:24V.6", f"{fuse}:1")
        board.add(Switch(fuse, f"{fuse}:1", f"{fuse}:2", 0.02))
        board.wire(f"{fuse}:2", f"A1:Q{group}+")
    for k in range(8):
        load, channel = f"P{k + 1}", f"A1:Q{k + 1}"
        board.add(Switch(channel, f"A1:Q{'AB'[k // 4]}+", channel, 0.1))
        board.wire(channel, f"{load}:1")
        board.wire(f"{load}:2", f"X1:0V.{k}")
        board.add(Resistor(load, f"{load}:1", f"{load}:2", 192.0 if k < 2 else 1200.0))
        if k < 2:
            board.add(diode(f"V{k + 1}", f"{load}:2", f"{load}:1"))
    # a plug-on contact and a two-wire sensor with its drop and its leakage beside two of the contacts
    board.wire("X1:24V.3", "K1:53")
    board.add(Switch("K1.aux", "K1:53", "K1:54", CONTACT_OHM))
    board.wire("K1:54", "X2:10")
    board.wire("X1:24V.4", "B2:1")
    board.add(
        Switch("B2", "B2:1", "B2:3", 0.5), Curve("B2.leak", "B2:1", "B2:2", ((0.0, 0.0), (5.0, 0.0008), (30.0, 0.001)))
    )
    board.add(Resistor("B2.out", "B2:3", "B2:2", 20.0))
    board.wire("B2:2", "X2:9")
    return Circuit(tuple(board.elements), "PE")


def healthy_switches() -> tuple[str, ...]:
    """The closed switches of the sample at rest, both output groups under voltage."""
    return ("S1", "S7", "FA", "FB", "A1:Q2")
