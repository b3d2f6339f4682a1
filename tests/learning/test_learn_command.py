"""``diagnose learn``: proposed from closed calls, accepted by a person, in force from then on, and taken back."""

from __future__ import annotations

import dataclasses
import json
import re
import shutil
from datetime import date
from pathlib import Path

import pytest
from msgspec.structs import replace

from diagnose.calls.store import Store
from diagnose.cli import main
from diagnose.knowledge.learned import read_learned
from diagnose.knowledge.load import learned_file, load_trees
from diagnose.knowledge.model import UNLISTED, Trees
from diagnose.learning.learn import learn as proposed
from diagnose.learning.lessons import CauseRow, FindingRow, Lesson, OutcomeRow, TrialRow, raised_name
from diagnose.learning.records import Lessons

SMALL = str(Path(__file__).parents[1] / "small_trees")
DAY = date(2031, 5, 4)
SUSPECTS = ("eye-out-of-line", "eye-wiring-open", "eye-supply-low", "eye-lens-dirty", "eye-dead")


def a_lesson(call_id: str, cause: str, answer: str = "dark", **more: object) -> Lesson:
    """What a call would tell in which a wire was mended, or something else."""
    fields: dict[str, object] = {
        "call_id": call_id,
        "sequence": 1,
        "day": DAY.toordinal(),
        "period": 8125,
        "site": "Kiln Yard",
        "door": "3",
        "kind": "",
        "complaint": "eye-lamp-wrong",
        "raised": raised_name("eye-lamp-wrong", SUSPECTS),
        "result": "returned to service",
        "confirmed": int(cause != UNLISTED),
        "cause": cause,
        "share": 1.0,
        "remedy": "remake-splice",
        "led": cause,
        "chance": 0.8,
        "promised": 60.0,
        "low": 40.0,
        "high": 90.0,
        "took": 55.0,
        "checks": 1,
        "remedies": 1,
        "visits": 1,
        "digest": "x",
    }
    row = OutcomeRow(**{**fields, **more})  # type: ignore[arg-type]
    if cause == UNLISTED:
        return Lesson(row, SUSPECTS)
    look = FindingRow(call_id, 1, "eye-lamp-receiver", cause, answer, 1.0, 1, 8125, None, None, 1, 0.3, 3.0)
    done = TrialRow(call_id, 1, row.remedy, cause, 1.0, 8125, 1, 30.0)
    found = CauseRow(call_id, cause, 1.0, 8125, row.kind, "eye-lamp-wrong")
    return Lesson(row, SUSPECTS, (found,), (look,), (done,))


@pytest.fixture(autouse=True)
def _own_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DIAGNOSE_LEARNED", str(tmp_path / "learned.yaml"))


@pytest.fixture
def shop_of_wires(tmp_path: Path) -> str:
    """A store in which nearly every call was a broken wire, whose lamp blinked and was not dark."""
    place = str(tmp_path / "shop.sqlite3")
    store = Store.open(place)
    lessons = Lessons.of(store)
    for number in range(80):
        name = f"2031-05-04-{number:04d}"
        store.claim(name)
        lessons.keep(name, a_lesson(name, "eye-wiring-open" if number % 8 else "eye-dead", "blinking"))
    store.close()
    return place


def learn(place: str, *words: str) -> int:
    return main(["--trees", SMALL, "--store", place, "learn", *words])


def test_an_empty_store_proposes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert learn(str(tmp_path / "empty.sqlite3")) == 1
    assert "nothing that the trees do not say already" in capsys.readouterr().out


def test_what_is_proposed_changes_nothing_by_itself(shop_of_wires: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert learn(shop_of_wires) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Base rate of “Open or corroded splice in the photo-eye wiring”" in said
    assert "Not to be believed any more" in said and "Minutes of “Remake the splice" in said
    assert not learned_file(SMALL).exists()


def test_a_person_accepts_one_by_one_and_takes_back(
    shop_of_wires: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    answers = iter(["maybe\n", "a\n", "k\n", "q\n"])
    monkeypatch.setattr("sys.stdin", _Typed(answers))
    assert learn(shop_of_wires, "--review", "--by", "A. Example") == 0
    said = capsys.readouterr().out
    assert "Type a to accept it" in said and "1 of" in said
    (held,) = read_learned(learned_file(SMALL)).changes
    assert held.by == "A. Example" and held.calls > 0
    learnt = load_trees(SMALL, cache=False, learned=learned_file(SMALL))
    assert learnt.digest != load_trees(SMALL, cache=False).digest
    assert learn(shop_of_wires, "--accepted") == 0
    assert "A. Example" in capsys.readouterr().out
    assert learn(shop_of_wires, "--undo", "no-such-entry") == 1
    assert learn(shop_of_wires, "--undo", "all") == 0
    assert not learned_file(SMALL).exists()
    assert learn(shop_of_wires, "--accepted") == 1


def test_all_of_a_sort_is_accepted_at_once_and_not_proposed_again(
    shop_of_wires: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for _ in range(12):
        monkeypatch.setattr("sys.stdin", _Typed(iter(["s\n"] * 20)))
        if learn(shop_of_wires, "--review", "--by", "A. Example") == 1:
            break
    capsys.readouterr()
    assert learn(shop_of_wires, "--json") == 0
    changes = json.loads(capsys.readouterr().out)["changes"]
    assert {each["what"] for each in changes} == {each.what for each in read_learned(learned_file(SMALL)).changes}
    assert learn(shop_of_wires) == 0
    assert "Proposed" not in capsys.readouterr().out


def test_what_calls_showed_lately_counts_more(tmp_path: Path, small_trees: Trees) -> None:
    """Twenty calls of four years ago, twenty of now: as many, but a quarter as much, at a half-life of two years."""
    store = Store.open(str(tmp_path / "ages.sqlite3"))
    lessons = Lessons.of(store)
    for number in range(40):
        name, old = f"c{number:02d}", number % 2
        store.claim(name)
        told = a_lesson(name, "eye-wiring-open", "blinking" if old else "dark", period=8125 - 16 * old)
        (look,) = told.findings
        lessons.keep(name, dataclasses.replace(told, findings=(dataclasses.replace(look, period=8125 - 16 * old),)))

    def dark(half_life: float) -> float:
        trees = replace(small_trees, costs=replace(small_trees.costs, half_life=half_life))
        changes = proposed(trees, lessons).proposals.changes
        (to,) = (each.to for each in changes if (each.what, each.at) == ("answers", "eye-lamp-receiver"))
        assert isinstance(to, dict)
        return to["dark"] / (to["dark"] + to["blinking"])

    assert dark(2.0) > dark(1000.0) + 0.05
    store.close()


def test_nobody_accepts_without_a_name(shop_of_wires: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert learn(shop_of_wires, "--review") == 2
    assert "Say who accepts" in capsys.readouterr().err


def test_what_does_not_fit_any_more_is_said_by_the_check(
    shop_of_wires: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    import shutil

    mine = tmp_path / "mine"
    shutil.copytree(SMALL, mine)
    monkeypatch.setattr("sys.stdin", _Typed(iter(["s\n"] * 20)))
    assert main(["--trees", str(mine), "--store", shop_of_wires, "learn", "--review", "--by", "A. Example"]) == 0
    file = mine / "sensor-indicator.yaml"
    file.write_text(file.read_text().replace("base: 35 per 1000", "base: 55 per 1000"))
    capsys.readouterr()
    main(["trees", "check", str(mine), "--rule", "too-long"])
    said = capsys.readouterr().out
    assert "The trees now say 0.055 for base rate 'eye-wiring-open'" in said and "[learned]" in said
    assert main(["--trees", str(mine), "--store", shop_of_wires, "learn", "--accepted"]) == 0
    assert "The trees now say" in " ".join(capsys.readouterr().out.split())


def test_calls_with_a_cause_in_no_tree_are_gathered_by_likeness(
    tmp_path: Path, small_trees: Trees, capsys: pytest.CaptureFixture[str]
) -> None:
    from diagnose.calls.call import Call
    from tests.learning.shops import close

    place = str(tmp_path / "odd.sqlite3")
    store = Store.open(place)
    lessons = Lessons.of(store)
    texts = ["Ants nest in the eye", "an ants' nest inside the eye", "Eye full of ants", "The cable tie was too tight"]
    for text in texts:
        name = store.begin()
        call = Call(small_trees, {"devices": ("photo-eye",)}, ["eye-lamp-wrong"], recorder=store.recorder(name))
        call.state_place("Kiln Yard", "3")
        call.answer("eye-lamp-transmitter", "dark" if "nts" in text else "steady")
        call.note(text)
        close(call, False)
        told = a_lesson(name, UNLISTED, sequence=len(call.events), confirmed=0, remedy="")
        lessons.keep(name, told, len(call.events))
    store.close()
    assert learn(place) == 0
    said = capsys.readouterr().out
    assert "3 calls that ended with a cause in no tree are alike" in said
    assert all(f"Kiln Yard 3: {text}" in said for text in texts[:3]) and texts[3] not in said
    assert "symptoms: {eye-lamp-wrong: probable}" in said and "eye-lamp-transmitter: {'dark':" in said

    # Pasted as told it is a part of the trees, and nothing is wrong with it.
    mine = tmp_path / "trees"
    shutil.copytree(SMALL, mine)
    file = mine / "sensor-indicator.yaml"
    entry = said[said.index("  new-cause:") :]
    file.write_text(file.read_text().replace("\ncauses:\n", f"\ncauses:\n{entry}", 1))
    first = file.read_text().splitlines().index("  new-cause:") + 1
    assert "new-cause" in load_trees(mine, cache=False).causes
    main(["--trees", str(mine), "trees", "check"])
    lines = [int(line) for line in re.findall(r"sensor-indicator.yaml:(\d+):", capsys.readouterr().out)]
    assert lines and not {*range(first, first + len(entry.splitlines()))} & {*lines}


class _Typed:
    """What somebody types, line by line."""

    def __init__(self, lines: object) -> None:
        self._lines = lines

    def readline(self) -> str:
        return str(next(self._lines, ""))  # type: ignore[call-overload]

    def isatty(self) -> bool:
        return True
