"""The front: keys, keeping, many switches, one BLAS thread, the public and the private linear solver."""

from __future__ import annotations

import random

import numpy as np
import pytest
from threadpoolctl import threadpool_info

from labkit.circuit import (
    Circuit,
    CircuitError,
    Curve,
    Resistor,
    Solver,
    Source,
    Switch,
    _linear,
    _ngspice,
    _speed,
    exact,
)
from labkit.circuit._sample import healthy_switches, sample_board


def ladder(count: int) -> Circuit:
    """A supply and a chain of contacts, each node with a lamp to 0 V."""
    parts: list[Switch | Resistor | Source] = [Source("G", "n0", "0", 24.0, 0.1, 5.0)]
    for k in range(count):
        parts += [Switch(f"S{k}", f"n{k}", f"n{k + 1}", 0.1), Resistor(f"P{k}", f"n{k + 1}", "0", 1e4)]
    return Circuit(tuple(parts), "0")


def test_bit_i_of_a_key_is_switch_i() -> None:
    solver = Solver(ladder(5))
    assert solver.switches == ("S0", "S1", "S2", "S3", "S4")
    assert solver.key(["S3", "S0"]) == 0b01001
    found = solver.solve(0b01001)
    assert [found.closed(s) for s in solver.switches] == [True, False, False, True, False]


@pytest.mark.parametrize("count", [3, 62, 63, 64, 70])
def test_any_number_of_switches(count: int) -> None:
    """A chain conducts as far as its contacts are closed; the words of 64 bits must not show."""
    solver = Solver(ladder(count))
    everything = (1 << count) - 1
    assert solver.solve(everything).volts[f"n{count}"] > 15.0
    assert solver.solve(everything ^ (1 << (count - 1))).volts[f"n{count}"] == pytest.approx(0.0, abs=1e-6)
    assert solver.solve(everything ^ 1).volts[f"n{count}"] == pytest.approx(0.0, abs=1e-6)


def test_bits_beyond_the_last_switch_mean_nothing() -> None:
    solver = Solver(ladder(3))
    assert np.array_equal(solver.solve(0b101).array, solver.solve(0b1101101).array)
    assert np.array_equal(solver.solve(-1).array, solver.solve(7).array)


def test_a_solution_is_kept_and_the_oldest_goes_first() -> None:
    solver = Solver(ladder(4), keep=2)
    first = solver.solve(1)
    assert solver.solve(1) is first
    solver.solve(2)
    solver.solve(3)
    assert solver.solve(1) is not first
    assert np.array_equal(solver.solve(1).array, first.array)


def test_a_kept_solution_cannot_be_written_over() -> None:
    found = Solver(ladder(2)).solve(0)
    with pytest.raises(ValueError, match="read-only"):
        found.array[1] = 5.0


def test_many_volts_at_once() -> None:
    solver = Solver(sample_board())
    found = solver.solve(solver.key(healthy_switches()))
    rows = solver.rows(["A1:I1", "A1:IC1"])
    assert found.array[rows[0]] - found.array[rows[1]] == pytest.approx(found.volt("A1:I1", "A1:IC1"))
    assert list(found.volts) == list(solver.nodes)
    assert len(found.volts) == len(solver.nodes)


def test_one_blas_thread() -> None:
    Solver(ladder(1))
    assert [lib["num_threads"] for lib in threadpool_info() if lib["user_api"] == "blas"] in ([1], [1, 1], [1, 1, 1])


def test_both_linear_solvers_agree_and_a_singular_system_is_not_finite() -> None:
    source = np.random.default_rng(3)
    matrix, right = source.random((6, 6)) + 3 * np.eye(6), source.random(6)
    assert np.allclose(_linear.solve_one(matrix, right), _linear._public_one(matrix, right), rtol=1e-12)
    many = source.random((6, 2))
    assert np.allclose(_linear.solve_many(matrix, many), np.linalg.solve(matrix, many), rtol=1e-12)
    with np.errstate(all="ignore"):
        assert not np.isfinite(_linear.solve_one(np.zeros((2, 2)), np.ones(2))).all()
    assert not np.isfinite(_linear._public_one(np.zeros((2, 2)), np.ones(2))).any()
    assert _linear._inner("no such routine") is _linear._public_one


def test_the_exact_engine_says_when_nothing_fits() -> None:
    parts = (Curve("Z1", "a", "0", ((5.0, -1.0), (5.0, 1.0))), Curve("Z2", "a", "0", ((7.0, -1.0), (7.0, 1.0))))
    with pytest.raises(CircuitError, match="no combination of straight pieces fits this network"):
        exact.solve_exact(Circuit(parts, "0"), ())


def test_a_check_finds_a_wrong_solution() -> None:
    """Volts that nobody solved for fail the check, and the message names a place."""
    solver = Solver(sample_board())
    found = solver.solve(random.Random(1).getrandbits(24))
    found.check()
    wrong = found.array.copy()
    wrong[solver.rows(["P3:1"])] += 0.001
    with pytest.raises(CircuitError, match=r"the currents at .* do not add up"):
        type(found)(solver.plan, found.key, (wrong, found.pieces, found.curve_amps)).check()


def test_speed_rows_say_what_was_measured_or_why_not(monkeypatch: pytest.MonkeyPatch) -> None:
    keys = {"key", "ratio", "floor", "aim", "ours", "other", "note"}
    rows = _speed.rows(quick=True)
    assert [row["key"] for row in rows] == ["solve_vs_ngspice", "solve_kept_vs_cold", "solve_vs_dense"]
    assert all(set(row) == keys and row["note"] for row in rows)
    monkeypatch.setattr(_ngspice.ctypes.util, "find_library", lambda name: None)
    _ngspice.ngspice.cache_clear()
    missing = _speed.rows(quick=True)[0]
    assert missing["ratio"] is None
    assert missing["note"].startswith("not measured: ngspice's shared library is not installed")
    _ngspice.ngspice.cache_clear()
