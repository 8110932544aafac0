"""What is written can be read back by a reader of its own, says the same in all three forms, and has names."""

from __future__ import annotations

import random
import re

import pytest
from click.testing import CliRunner
from verify_generated import program, requirement
from verify_outside import Read, read_aag

from labkit.bench import Bench
from labkit.cli import commands
from labkit.verify import ProofError, export, prove
from labkit.verify._aiger import to_aag, to_aig, to_smv
from labkit.verify._export import system_of

SEAL = "K1 := S1 AND (S2 OR K1);"
STOP = "whenever not S1 then not K1"


def run_aag(read: Read, path) -> list[int]:
    """The output "bad" at each step of a path of inputs in the file's order."""
    state, seen = dict.fromkeys(read.latches, 0), []
    for inputs in path:
        known = {0: 0, **state, **dict(zip(read.inputs, inputs, strict=True))}

        def value(lit, known=known):
            return known[lit & ~1] ^ lit & 1

        for lit, (a, b) in read.gates.items():
            known[lit] = value(a) & value(b)
        seen.append(value(read.bad))
        state = {lit: value(new) for lit, new in read.nexts.items()}
    return seen


def run_smv(text: str, path) -> list[int]:
    """The same from the SMV text, read line by line: every name is a variable, a definition or a next value."""
    free = re.findall(r"^  (v\d+) : boolean;", text, re.M)
    defined = re.findall(r"^  (\w+) := (.*);$", text, re.M)
    initial = re.findall(r"^  init\((\w+)\) := (\w+);$", text, re.M)
    following = re.findall(r"^  next\((\w+)\) := (.*);$", text, re.M)
    state = {name: value == "TRUE" for name, value in initial}
    inputs = [name for name in free if name not in state]
    seen = []

    def value(expression: str, known) -> bool:
        words = expression.replace("!", " not ").replace("&", " and ").replace("TRUE", "True").replace("FALSE", "False")
        return bool(eval(words, {}, known))

    for step in path:
        known = {**state, **{n: bool(v) for n, v in zip(inputs, step, strict=True)}}
        for name, expression in defined:
            known[name] = value(expression, known)
        seen.append(int(known["bad"]))
        state = {name: value(expression, known) for name, expression in following}
    return seen


def unpack_aig(data: bytes) -> tuple[str, list[tuple[int, int]]]:
    """The head of the binary form, and its gates (the delta code of the format's report)."""
    lines, at = data.split(b"\n"), 0
    _, most, inputs, latches, outputs, ands = lines[0].split()
    head = 1 + int(latches) + int(outputs)
    at = sum(len(line) + 1 for line in lines[:head])
    gates = []

    def delta() -> int:
        nonlocal at
        number, shift = 0, 0
        while True:
            byte = data[at]
            at += 1
            number |= (byte & 127) << shift
            shift += 7
            if byte < 128:
                return number

    for n in range(int(inputs) + int(latches) + 1, int(most) + 1):
        high = 2 * n - delta()
        gates.append((high, high - delta()))
    assert len(gates) == int(ands)
    assert data[at : at + 1] in (b"i", b"l", b"o")
    return b"\n".join(lines[:head]).decode(), gates


@pytest.mark.parametrize("seed", range(40))
def test_the_three_forms_are_one_system(seed):
    rng = random.Random(seed)
    flat = system_of(program(rng), requirement(rng))
    path = [[rng.randint(0, 1) for _ in flat.inputs] for _ in range(25)]
    expected = [outputs[0] for outputs in flat.walk(path)]
    read = read_aag(to_aag(flat))
    assert run_aag(read, path) == expected
    assert run_smv(to_smv(flat), path) == expected
    head, gates = unpack_aig(to_aig(flat))
    assert gates == list(read.gates.values())
    assert [int(line) for line in head.split("\n")[1:]] == [*read.nexts.values(), read.bad]


def test_seal_in_as_the_format_says():
    """Worked out by hand: bad = not S1 and M', M' = S1 and (S2 or M)."""
    read = read_aag(to_aag(system_of(SEAL, STOP)))
    assert list(read.inputs.values()) == ["S1", "S2"]
    assert list(read.latches.values()) == ["K1"]
    for s1 in (0, 1):
        for s2 in (0, 1):
            bad = run_aag(read, [(1, 1), (s1, s2)])[-1]
            assert bad == 0, "the seal-in obeys stop"
    wrong = read_aag(to_aag(system_of("K1 := S2 OR (S1 AND K1);", STOP)))
    assert list(wrong.inputs.values()) == ["S2", "S1"]
    assert [run_aag(wrong, [(s2, s1)])[-1] for s1 in (0, 1) for s2 in (0, 1)] == [0, 1, 0, 0]


def test_a_story_is_a_path_of_the_file():
    """The inputs of the shortest story, by their names, break the exported system at the same scan."""
    text = "VAR T : TON; END_VAR T(IN := A AND NOT B, PT := T#70ms); K := T.Q;"
    verdict = prove(text, "never K")
    read = read_aag(to_aag(system_of(text, "never K")))
    now, path = {"A": 0, "B": 0}, []
    for moment in verdict.story.moments:
        for done in moment.done:
            name, value = done.split(" = ")
            now[name] = int(value)
        path.append([now[name] for name in read.inputs.values()])
    assert run_aag(read, path) == [0] * (verdict.depth - 1) + [1]


def test_a_board_has_positions_for_inputs(tmp_path):
    bench = Bench("orchard")
    bench.load(SEAL)
    target = tmp_path / "seal.aag"
    export(bench, "whenever pos:S4=left then not pole:K1", target, may=["S1", "S2", "S4", "wire:101"])
    read = read_aag(target.read_text("utf-8"))
    assert {"S1", "S2", "S4.0", "S4.1", "wire:101"} == set(read.inputs.values())
    assert "powered" in read.latches.values()


def test_a_latch_that_starts_at_1_is_kept_as_its_opposite():
    read = read_aag(to_aag(system_of("VAR M : BOOL := TRUE; END_VAR M := M AND A;", "never not M")))
    assert list(read.latches.values()) == ["not M"]


def test_what_cannot_be_written(tmp_path):
    with pytest.raises(ProofError, match="no known form"):
        export(SEAL, STOP, tmp_path / "seal.txt")
    with pytest.raises(ProofError, match="not a question about bad states"):
        export(SEAL, "K1 can still be reached", tmp_path / "seal.aag")
    bench = Bench("orchard")
    outputs = [f"P{n} := S2;" for n in (1, 2, 3, 4, 5, 9)]
    bench.load(SEAL + "".join(outputs))
    with pytest.raises(ProofError, match="electrical map"):
        export(bench, STOP, tmp_path / "seal.aag", may=[f"wire:{w.no}" for w in bench.wiring.wires[:10]])


@pytest.mark.parametrize("ending", ["aag", "aig", "smv"])
def test_from_the_command_line(tmp_path, ending):
    program_file = tmp_path / "seal.st"
    program_file.write_text(SEAL, encoding="utf-8")
    target = tmp_path / f"seal.{ending}"
    done = CliRunner().invoke(
        commands, ["prove", str(program_file), "--require", STOP, "--board", "none", "--export", str(target)]
    )
    assert done.exit_code == 0, done.output
    assert "2 inputs, 1 latches, 3 gates" in done.output
    assert target.read_bytes().startswith({"aag": b"aag 6 2 1 1 3", "aig": b"aig 6 2 1 1 3"}.get(ending, b"-- labkit"))


def test_one_question_to_a_file(tmp_path):
    program_file = tmp_path / "seal.st"
    program_file.write_text(SEAL, encoding="utf-8")
    asked = ["--require", STOP, "--require", "never K1", "--export", str(tmp_path / "x.aag")]
    done = CliRunner().invoke(commands, ["prove", str(program_file), *asked])
    assert done.exit_code == 2
    assert "give --require once" in done.output
