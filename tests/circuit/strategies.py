"""Random networks: ladders, bridges, shorts, floating islands, supplies that push against each other."""

from __future__ import annotations

from hypothesis import strategies as st

from labkit.circuit import Circuit, Curve, Element, Resistor, Source, Switch, diode

# a few figures that occur on a board, and some that do not: milliohm joints beside megohm leaks
OHMS = st.sampled_from([0.001, 0.0047, 0.05, 0.3, 1.0, 10.0, 192.0, 1200.0, 33e3, 1e6, 1e8])


@st.composite
def curves(draw: st.DrawFn, name: str, a: str, b: str) -> Curve:
    kind = draw(st.sampled_from(["diode", "ideal diode", "channel", "current", "stairs"]))
    if kind == "diode":
        return diode(name, a, b, on_ohm=draw(st.sampled_from([0.02, 0.1, 5.0])))
    if kind == "ideal diode":
        return Curve(name, a, b, ((-1.0, 0.0), (0.6, 0.0), (0.6, 1.0)))
    if kind == "channel":
        return Curve(name, a, b, ((-1.0, 0.0), (0.0, 0.0), (5.0, 0.0005), (11.0, 0.002), (30.0, 0.0031)))
    if kind == "current":
        return Curve(name, a, b, ((-1.0, -0.5), (0.0, 0.0), (2.0, 0.004), (3.0, 0.004)))
    return Curve(name, a, b, ((-2.0, -1.0), (-2.0, 0.0), (1.0, 0.0), (1.0, 0.01), (4.0, 0.01), (4.0, 1.0)))


@st.composite
def sources(draw: st.DrawFn, name: str, a: str, b: str) -> Source:
    return Source(
        name,
        a,
        b,
        draw(st.sampled_from([24.0, 23.5, 12.0, -5.0])),
        draw(st.sampled_from([0.01, 0.2, 10.0])),
        draw(st.sampled_from([0.01, 2.5, 10.0])),
    )


@st.composite
def circuits(draw: st.DrawFn, *, most_nodes: int = 7) -> tuple[Circuit, tuple[str, ...]]:
    """A network and the names of its closed switches."""
    count = draw(st.integers(2, most_nodes))
    names = ["PE", *(f"X1:{k}" for k in range(1, count))]
    elements: list[Element] = []

    def pair() -> tuple[str, str]:
        return draw(st.sampled_from(names)), draw(st.sampled_from(names))

    # a chain that may or may not reach ground, then what falls where
    for k in range(draw(st.integers(0, count - 2)) + 1, count):
        elements.append(Resistor(f"W{k}", names[k - 1], names[k], draw(OHMS)))
    for k in range(draw(st.integers(0, 6))):
        elements.append(Resistor(f"R{k}", *pair(), draw(OHMS)))
    for k in range(draw(st.integers(0, 4))):
        elements.append(Switch(f"S{k}", *pair(), draw(OHMS)))
    for k in range(draw(st.integers(0, 3))):
        a, b = pair()
        if a != b:
            elements.append(draw(curves(f"D{k}", a, b)))
    for k in range(draw(st.integers(0, 2))):
        elements.append(draw(sources(f"G{k}", *pair())))
    closed = tuple(e.name for e in elements if isinstance(e, Switch) and draw(st.booleans()))
    return Circuit(tuple(elements), "PE"), closed
