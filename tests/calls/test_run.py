"""Calls answered from files: every fault at its line, the ranking and next step for people and for programs."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest

from diagnose.calls.call import Call
from diagnose.cli import main
from diagnose.commands.run import CallFile, answered, in_full, read_call_files, summary
from diagnose.knowledge.load import load_trees
from diagnose.knowledge.model import Trees
from diagnose.knowledge.problems import TreeError
from tests.conftest import SMALL

GOOD = """\
door: {drive: trolley, devices: photo-eye, fire-rated: no}
symptoms: [eye-lamp-wrong]
answers:
  eye-lamp-receiver: dark
  eye-volts-far-end: [1.2 V, 1.4]
  closes-while-held: yes
tried: [{remedy: clean-lenses, worked: no}]
people: [anyone, technician]
cause: eye-wiring-open
"""
BAD = """\
door: {drive: trolly, wings: 2}
symptoms: [eye-lamp-wrong, nothing-at-all]
answers:
  eye-lamp-receiver: bright
  eye-volt-far-end: 1.2 V
  eye-volts-far-end: 3 ft
tried: [{remedy: clean-lens, worked: no}]
people: [wizard]
cause: eye-wiring
"""
MISSHAPEN = """\
symptoms: [eye-lamp-wrong]
tried: [{remedy: clean-lenses, worked: perhaps}]
colour: red
"""

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.setenv("DIAGNOSE_LOG", str(tmp_path / "faults.log"))

    def go(*arguments: str | Path) -> tuple[int, str, str]:
        code = main(["--trees", str(SMALL), "run", *map(str, arguments)])
        captured = capsys.readouterr()
        return code, captured.out, captured.err

    return go


def written(folder: Path, text: str, name: str = "call.yaml") -> Path:
    folder.mkdir(exist_ok=True)
    file = folder / name
    file.write_text(text, encoding="utf-8")
    return file


def test_a_file_is_answered_as_a_person_would_answer_it(tmp_path: Path, small_trees: Trees) -> None:
    (asked,) = read_call_files([written(tmp_path, GOOD)], small_trees)
    outcome = answered(small_trees, asked)
    by_hand = Call(small_trees, {"drive": "trolley", "devices": ("photo-eye",), "fire-rated": "no"}, ["eye-lamp-wrong"])
    by_hand.answer("eye-lamp-receiver", "dark")
    by_hand.answer("eye-volts-far-end", "1.2 V")
    by_hand.answer("eye-volts-far-end", "1.4", mode="again")
    by_hand.answer("closes-while-held", "yes")
    by_hand.tried("clean-lenses", worked=False)
    assert [(each.cause, each.probability) for each in outcome.call.likely()] == [
        (each.cause, each.probability) for each in by_hand.likely()
    ]
    assert outcome.rank == 1


def test_a_program_can_read_what_follows(run: Run, tmp_path: Path) -> None:
    code, out, err = run(written(tmp_path, GOOD), "--json")
    assert (code, err) == (0, "")
    data: dict[str, Any] = json.loads(out)
    assert data["likely"][0]["cause"] == "eye-wiring-open"
    assert sum(each["probability"] for each in data["likely"]) > 0.99
    assert data["likely"][0]["evidence"][0]["check"] == "eye-volts-far-end"
    assert data["next"]["kind"] in ("check", "remedy", "energy") and data["next"]["title"]
    assert data["next"]["expected_minutes_left"] > 0
    assert data["expected"] == {"cause": "eye-wiring-open", "rank": 1, "first": True, "in_first_three": True}
    assert set(data["surprise"]) == {"conflict", "unlisted", "raised", "odd"}


def test_a_person_can_read_it_too(run: Run, tmp_path: Path) -> None:
    code, out, _ = run(written(tmp_path, GOOD))
    assert code == 0
    assert out.startswith("Likely:\n") and "Open or corroded splice in the photo-eye wiring" in out
    assert "\nNext: " in out and "To a proven door: about " in out
    assert "Expected eye-wiring-open: first." in out


def test_all_faults_of_all_files_are_named_at_their_lines(run: Run, tmp_path: Path) -> None:
    bad, broken = written(tmp_path, BAD), written(tmp_path, "door: [\n", "broken.yaml")
    misshapen = written(tmp_path, MISSHAPEN, "misshapen.yaml")
    code, out, err = run(bad, broken, misshapen, tmp_path / "none.yaml")
    assert (code, out) == (2, "")
    lines = err.splitlines()
    for line, part in (
        (1, "'trolly' is no answer to 'drive'. Did you mean 'trolley'?"),
        (1, "'wings' is no fact."),
        (2, "'nothing-at-all' is no complaint."),
        (4, "'bright' is not among the answers."),
        (5, "'eye-volt-far-end' is no check. Did you mean 'eye-volts-far-end'?"),
        (6, "That is a length; this check asks for"),
        (7, "'clean-lens' is no repair. Did you mean 'clean-lenses'?"),
        (8, "'wizard' is nobody these trees know."),
        (9, "'eye-wiring' is no cause."),
    ):
        assert any(each.startswith(f"{bad}:{line}: ") and part in each for each in lines), (line, part, err)
    for line, part in ((2, "'perhaps' does not say whether it worked."), (3, "'colour' is no key here.")):
        assert any(each.startswith(f"{misshapen}:{line}:") and part in each for each in lines), (line, part, err)
    assert any(each.startswith(f"{broken}:") and "not YAML" in each for each in lines)
    assert any(each.startswith(f"{tmp_path / 'none.yaml'}:1:") and "cannot be read" in each for each in lines)


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("", "No complaint is stated."),
        ("- a\n- b\n", "'key: value'"),
        ("just words", "'key: value'"),
        ("symptoms: 7", "'7' is no complaint"),
        ("symptoms: [eye-lamp-wrong]\ndoor: trolley", "Write 'door: {fact: value}'."),
        ("symptoms: [eye-lamp-wrong]\nanswers: [dark]", "Write 'answers: {check: what was found}'."),
        ("symptoms: [eye-lamp-wrong]\ntried: clean-lenses", "A repair tried has"),
        ("symptoms: [eye-lamp-wrong]\ntried: [clean-lenses]", "A repair tried has"),
        ("symptoms: [eye-lamp-wrong]\ndoor: {drive: {a: b}}", "is no answer to 'drive'"),
        ("symptoms: [eye-lamp-wrong]\nanswers: {impact: {a: b}}", "is not among the answers"),
        ("symptoms: [eye-lamp-wrong]\nsymptoms: [eye-lamp-wrong]", "written twice"),
        ("symptoms: [[eye-lamp-wrong]]", "'symptoms' must be one word or one text"),
        ("cause: [a]\nsymptoms: [eye-lamp-wrong]", "'cause' must be one word or one text"),
    ],
)
def test_a_file_of_another_shape_is_refused_in_words(run: Run, tmp_path: Path, text: str, part: str) -> None:
    code, _, err = run(written(tmp_path, text))
    assert code == 2
    assert part in err
    assert "Traceback" not in err and "should not have happened" not in err


def test_a_folder_is_summed_up(run: Run, tmp_path: Path, small_trees: Trees) -> None:
    folder = tmp_path / "calls"
    written(folder, GOOD, "a.yaml")
    written(folder, GOOD.replace("cause: eye-wiring-open", "cause: eye-supply-low"), "b.yaml")
    written(folder, "symptoms: [eye-lamp-wrong]\n", "c.yaml")
    code, out, _ = run(folder)
    assert "3 calls. Of 2 with a known cause it came first in 1 and in the first three in" in out
    outcomes = [answered(small_trees, each) for each in read_call_files([folder], small_trees)]
    total = summary(outcomes)
    assert (total["calls"], total["with_cause"], total["first"]) == (3, 2, 1)
    assert code == (0 if total["in_first_three"] == 2 else 1)
    _, out, _ = run(folder, "--json")
    data = json.loads(out)
    assert data["summary"] == total and len(data["calls"]) == 3


def test_a_cause_beyond_the_first_three_is_a_negative_answer(run: Run, tmp_path: Path) -> None:
    text = GOOD.replace("cause: eye-wiring-open", "cause: eye-lens-dirty")
    code, out, _ = run(written(tmp_path, text))
    assert code == 1
    assert "Expected eye-lens-dirty: in place" in out


def test_an_empty_folder_is_a_fault(tmp_path: Path, small_trees: Trees) -> None:
    with pytest.raises(TreeError, match="holds no call files"):
        read_call_files([tmp_path], small_trees)


def test_nothing_is_recorded(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DIAGNOSE_STORE", str(tmp_path / "calls.sqlite3"))
    run(written(tmp_path, GOOD))
    assert not (tmp_path / "calls.sqlite3").exists()


def test_a_next_step_for_somebody_who_is_not_here_says_so() -> None:
    dock = load_trees(SMALL.parent / "screening" / "trees", cache=False)
    found = {"lamp": ("dark",), "fuse-ohms": ("0.3",), "board-looks": ("burnt",)}
    asked = CallFile(id="", door={"devices": ()}, symptoms=("will-not-move",), answers=found)
    lines = in_full(answered(dock, asked))
    assert "Next: Replace the board (needs an electrician, who is not here)" in lines
    here = msgspec.structs.replace(asked, people=("technician", "electrician"))
    assert "Next: Replace the board" in in_full(answered(dock, here))
