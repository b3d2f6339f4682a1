"""Doors from life: read with every fault at its line, played through a call, and reported as they went."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import msgspec
import pytest

from diagnose.calls.call import Call
from diagnose.cli import main
from diagnose.knowledge.model import COULD_NOT_TELL, Trees
from diagnose.practice.from_life import DoorError, LifeDoor, load_doors, shown_when_sound
from diagnose.practice.playing import Played, _Player, is_idle, play, play_all
from diagnose.practice.playing_report import as_data, figures, report
from diagnose.reasoning.plan import Candidate, Planner
from tests.conftest import SMALL

SHIPPED = Path(__file__).parents[1] / "from_life"

THREE = """
- id: t01
  says: The little box by the door is dark and the door stays up.
  truth: A splice in the wet rotted through, and no volts reach the receiving eye.
  facts: {drive: trolley, devices: [photo-eye, wall-station], fire-rated: no}
  complaint: eye-lamp-wrong
  found:
    eye-lamp-receiver: dark
    eye-volts-far-end: 0.3 V
    splice-looks: green or loose
    surroundings: wet or washed down
  cannot: [closes-while-held]
  causes: [eye-wiring-open]
- id: t02
  says: Lamp went blinking last week, worse every day.
  truth: A film of dust on the lens, which everybody takes for clean; the brackets were always a little loose.
  facts: {drive: trolley, devices: [photo-eye, wall-station], fire-rated: no}
  complaint: eye-lamp-wrong
  found:
    eye-lamp-receiver: blinking
    eye-aim: off or loose
    impact: hit or fresh marks
    lens-clean: clean
    how-it-began: suddenly
  causes: [eye-lens-dirty]
- id: t04
  says: The light at the gate's eye is out.
  truth: The eye is dead, at a door whose papers name no eye.
  facts: {drive: trolley, devices: [wall-station], fire-rated: no}
  complaint: eye-lamp-wrong
  found: {eye-lamp-receiver: dark}
  causes: [eye-dead]
"""


def doors_of(trees: Trees, folder: Path, text: str) -> tuple[LifeDoor, ...]:
    path = folder / "doors.yaml"
    path.write_text(text, encoding="utf-8")
    (file,) = load_doors(trees, [path])
    return file.doors


@pytest.fixture
def three(small_trees: Trees, tmp_path: Path) -> tuple[LifeDoor, ...]:
    return doors_of(small_trees, tmp_path, THREE)


@pytest.fixture
def played(small_trees: Trees, three: tuple[LifeDoor, ...]) -> list[Played]:
    return play_all(small_trees, three)


# --- reading ------------------------------------------------------------------------------------------------------

TWO = "[[eye-wiring-open, eye-dead], [eye-lens-dirty]]"
RIGHT = f"""\
- id: t01
  says: It stays up.
  truth: A splice rotted through.
  facts: {{drive: trolley, devices: photo-eye}}
  complaint: eye-lamp-wrong
  also: [eye-lamp-wrong]
  found: {{eye-lamp-receiver: dark, eye-volts-far-end: 0.3 V}}
  cannot: [impact]
  causes: {TWO}
"""


def test_a_right_door_is_read_as_it_is_written(small_trees: Trees, tmp_path: Path) -> None:
    (door,) = doors_of(small_trees, tmp_path, RIGHT)
    assert door.facts == {"drive": "trolley", "devices": ("photo-eye",)}
    assert door.causes == (("eye-wiring-open", "eye-dead"), ("eye-lens-dirty",))
    for written, causes in (("[eye-dead]", (("eye-dead",),)), ("[]", ())):
        (other,) = doors_of(small_trees, tmp_path, RIGHT.replace(TWO, written))
        assert other.causes == causes


@pytest.mark.parametrize(
    ("old", "new", "line", "wrong", "mend"),
    [
        ("says:", "say:", 2, "'say' is no key here.", "Did you mean 'says'?"),
        ("  truth: A splice rotted through.\n", "", 1, "'truth' is missing.", "Add 'truth:' here."),
        ("id: t01", "id: 7", 1, "A door needs an id of letters and a number.", "Write 'id: k01'."),
        ("id: t01\n  says", "says", 1, "A door needs an id of letters and a number.", "Write 'id: k01'."),
        ("drive:", "drives:", 4, "'drives' is no fact.", "Did you mean 'drive'?"),
        ("trolley", "trolly", 4, "'trolly' is no answer to 'drive'.", "Did you mean 'trolley'?"),
        ("trolley", "[trolley]", 4, "Only one answer to 'drive' can hold.", "Write one of them."),
        ("complaint: eye-", "complaint: eyes-", 5, "'eyes-lamp-wrong' is no complaint.", "Did you mean"),
        ("also: [eye-", "also: [eyes-", 6, "'eyes-lamp-wrong' is no complaint.", "Did you mean"),
        ("eye-lamp-receiver:", "eye-lamp-recever:", 7, "'eye-lamp-recever' is no check.", "Did you mean"),
        ("dark", "drak", 7, "'eye-lamp-receiver' is not answered so.", "Did you mean 'dark'?"),
        ("0.3 V", "0.3 ohm", 7, "'eye-volts-far-end' is not answered so.", "asks for volts"),
        ("[impact]", "[impacts]", 8, "'impacts' is no check.", "Did you mean 'impact'?"),
        ("[impact]", "[eye-lamp-receiver]", 8, "'eye-lamp-receiver' was found, and could not be told.", "Leave it out"),
        ("eye-dead", "eye-ded", 9, "'eye-ded' is no cause.", "Did you mean 'eye-dead'?"),
        ("[eye-lens-dirty]]", "eye-lens-dirty]", 9, "'causes' is a list.", "Write [cause]"),
        ("[eye-lens-dirty]]", "[]]", 9, "'causes' is a list.", "Write [cause]"),
        ("- id: t01", "- t01\n- id: t02", 1, "A door is a list of 'key: value'.", "Begin it with '- id:'."),
        ("- id: t01\n  says", "says: x\nid", 3, "This is not YAML", "line the key up"),
    ],
)
def test_each_fault_is_told_at_its_line_with_what_to_do(
    small_trees: Trees, tmp_path: Path, old: str, new: str, line: int, wrong: str, mend: str
) -> None:
    assert old in RIGHT
    with pytest.raises(DoorError) as caught:
        doors_of(small_trees, tmp_path, RIGHT.replace(old, new, 1))
    told = [str(problem) for problem in caught.value.problems]
    at = re.compile(rf"doors\.yaml:{line}(:\d+)?: {re.escape(wrong)}")
    assert any(at.search(each) and mend in each for each in told), told


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("", "A file of doors is a list."),
        ("id: t01", "A file of doors is a list."),
        ("[]", "A file of doors is a list."),
    ],
)
def test_a_file_that_holds_no_doors_is_told(small_trees: Trees, tmp_path: Path, text: str, wrong: str) -> None:
    with pytest.raises(DoorError, match=wrong):
        doors_of(small_trees, tmp_path, text)


def test_files_that_are_not_there_and_ids_that_are_twice_are_told_together(small_trees: Trees, tmp_path: Path) -> None:
    for name in ("a.yaml", "b.yaml"):
        (tmp_path / name).write_text(RIGHT, encoding="utf-8")
    (tmp_path / "empty").mkdir()
    with pytest.raises(DoorError) as caught:
        load_doors(small_trees, [tmp_path, tmp_path / "empty", tmp_path / "none.yaml"])
    told = str(caught.value)
    assert f"{tmp_path}/b.yaml:1: 't01' is another door's id, at {tmp_path}/a.yaml:1." in told
    assert "This folder holds no doors." in told
    assert "none.yaml:1: This file cannot be read" in told


def test_what_is_not_written_is_as_on_a_sound_door(small_trees: Trees, three: tuple[LifeDoor, ...]) -> None:
    checks, door = small_trees.checks, three[0]
    assert door.shows(checks["eye-volts-far-end"]) == "0.3 V"
    assert door.shows(checks["closes-while-held"]) == COULD_NOT_TELL
    assert door.shows(checks["lens-clean"]) == "clean"
    assert shown_when_sound(checks["eye-volts-far-end"]) == "24 V"
    assert shown_when_sound(checks["age-of-operator"]) == "8 years"


def test_doors_are_set_aside_by_the_number_in_their_id(three: tuple[LifeDoor, ...]) -> None:
    by_id = {n: msgspec.structs.replace(three[0], id=f"t{n:02d}").set_aside for n in range(1, 13)}
    assert [n for n, aside in by_id.items() if aside] == [3, 6, 9, 12]


# --- playing ------------------------------------------------------------------------------------------------------


def test_a_door_that_is_told_right_is_found_and_mended(played: list[Played]) -> None:
    right = played[0]
    assert (right.place, right.leader, right.end, right.wrong, right.why) == (0, "eye-wiring-open", "mended", (), "")
    assert "eye-lamp-receiver" in right.checks
    assert all(put.expected is not None and 0 < put.expected <= 1 for put in right.put)


def test_a_door_whose_answers_speak_against_its_cause_says_which(small_trees: Trees, played: list[Played]) -> None:
    refuted = played[1]
    assert refuted.place not in (0, None) and refuted.leader == "eye-out-of-line"
    assert refuted.why.startswith("eye-lens-dirty refuted by ")
    factors = [float(part.split(")")[0]) for part in refuted.why.split("×")[1:]]
    assert factors == sorted(factors) and all(factor < 1 / 3 for factor in factors)
    assert "lens-clean 'clean'" in refuted.why
    # The remedy of the wrong leader was put, and was wrong.
    assert "realign-eyes" in refuted.wrong


def test_a_door_whose_cause_is_no_suspect_says_why(played: list[Played]) -> None:
    unsuspected = played[2]
    assert unsuspected.place is None and not unsuspected.mended
    assert unsuspected.why == "not suspected: eye-dead cannot be in such a door"


def test_a_cause_that_led_and_was_not_mended_is_lost_in_the_course(small_trees: Trees, tmp_path: Path) -> None:
    """Two faults, and nothing is found of the second: at the least its remedy is a guess."""
    two = THREE[: THREE.index("- id: t02")].replace("[eye-wiring-open]", "[[eye-wiring-open], [eye-dead]]")
    (door,) = doors_of(small_trees, tmp_path, two)
    lost = play(small_trees, door)
    assert (lost.place, lost.leader) == (0, "eye-wiring-open")
    assert not (lost.mended and not lost.wrong)
    assert lost.why.startswith("lost in the course: ")
    assert all(remedy in lost.why for remedy in lost.wrong)
    assert lost.mended == ("left in the door: eye-dead" not in lost.why)


def test_a_fault_in_no_tree_is_right_where_unlisted_leads_at_the_end(small_trees: Trees, tmp_path: Path) -> None:
    text = THREE[THREE.index("- id: t02") : THREE.index("- id: t04")].replace("[eye-lens-dirty]", "[]")
    (door,) = doors_of(small_trees, tmp_path, text)
    played = play(small_trees, door)
    assert not played.in_book
    assert (played.place, played.leader, played.right) == (0, "unlisted", True)
    # Handed over as something not in the book with at most one part wasted is as good as it gets.
    assert played.mended == (len(played.wrong) < 2)
    figures = as_data([("doors.yaml", [played])], "all")["figures"]
    assert figures["unlisted leads, in no tree"]["value"] == 1 and figures["unlisted leads wrongly"] is None


def test_what_told_of_a_fault_that_was_mended_is_sound_afterwards(small_trees: Trees, tmp_path: Path) -> None:
    text = THREE[: THREE.index("- id: t02")].replace("[eye-wiring-open]", "[[eye-wiring-open], [eye-lens-dirty]]")
    (door,) = doors_of(small_trees, tmp_path, text)
    player = _Player(small_trees, door, False, lambda line: None)
    looks, lamp = small_trees.checks["splice-looks"], small_trees.checks["eye-lamp-receiver"]
    assert (player._shows(looks), player._shows(lamp)) == ("green or loose", "dark")
    player._call.take_up("remedy", "remake-splice")
    player._try(replace(player._call.next_step(), kind="remedy", id="remake-splice"))
    # The lamp tells of the dirt too, which is still there.
    assert (player._shows(looks), player._shows(lamp)) == (shown_when_sound(looks), "dark")


def test_doors_go_the_same_on_two_processes(
    small_trees: Trees, three: tuple[LifeDoor, ...], played: list[Played]
) -> None:
    said: list[tuple[int, int]] = []
    assert play_all(small_trees, three, processes=2, progress=lambda *done: said.append(done)) == played
    assert said == [(1, 3), (2, 3), (3, 3)]


def test_a_call_is_told_step_by_step(small_trees: Trees, three: tuple[LifeDoor, ...]) -> None:
    lines: list[str] = []
    played = play(small_trees, three[0], tell=lines.append)
    assert [line.split()[1] for line in lines if line.startswith("check ")] == list(played.checks)
    assert any(line.startswith("    → dark") and "sound" not in line for line in lines)
    assert lines[-1] == "    → the complaint is gone"


# --- idle checks --------------------------------------------------------------------------------------------------


def test_a_check_is_idle_where_no_answer_changes_what_leads_and_what_is_put(
    small_trees: Trees, three: tuple[LifeDoor, ...]
) -> None:
    """Before any answer the lamp decides much; once all but one cause is ruled out nothing does."""
    call = Call(small_trees, three[0].facts, ["eye-lamp-wrong"], people=tuple(small_trees.people))
    assert not is_idle(call.planner, _candidate(call.planner, "eye-lamp-receiver"))
    for check, answer in (("eye-lamp-receiver", "dark"), ("eye-volts-far-end", "0.2 V")):
        call.answer(check, answer)
    assert call.likely()[0].probability > 0.95
    assert is_idle(call.planner, _candidate(call.planner, "impact"))
    # The same holds where two faults at once are thought of.
    call.tried("remake-splice", worked=False)
    assert call.inference.belief.pairs > 0
    assert {is_idle(call.planner, candidate) for candidate in call.planner.candidates} == {True, False}


def _candidate(planner: Planner, check: str) -> Candidate:
    return next(c for c in planner.candidates if c.way.goal == check)


def test_idle_checks_are_looked_for_only_where_that_is_asked(small_trees: Trees, three: tuple[LifeDoor, ...]) -> None:
    without, with_idle = (play(small_trees, three[1], idle=idle) for idle in (False, True))
    assert not figures([without])["idle"].count
    assert {put.idle for put in with_idle.put} <= {True, False}
    assert without.checks == with_idle.checks


# --- the report ---------------------------------------------------------------------------------------------------


def test_the_report_says_what_came_of_each_door(played: list[Played]) -> None:
    text = report([("doors.yaml", played)], "all")
    assert "3 doors from life (all)" in text
    assert "right cause first             33.3 %" in text
    assert "Not right first, mended and without a wrong remedy: 2" in text
    for one in played[1:]:
        assert one.why in text
    figures = as_data([("doors.yaml", played)], "all")["figures"]
    assert figures["right first"]["value"] == pytest.approx(1 / 3)
    assert figures["mended, no wrong remedy"]["value"] == pytest.approx(1 / 3)
    assert figures["wrong remedies a door"] == sum(len(one.wrong) for one in played) / 3
    gap = abs(sum(one.probability - one.right for one in played)) / 3
    assert figures["calibration error"] >= gap - 1e-9
    assert figures["idle"] is None and figures["unlisted leads, in no tree"] is None


def test_what_failed_of_the_doors_set_aside_is_counted_and_not_shown(
    small_trees: Trees, three: tuple[LifeDoor, ...]
) -> None:
    aside = play(small_trees, msgspec.structs.replace(three[1], id="t03"))
    text = report([("doors.yaml", [aside])], "those set aside")
    assert aside.why and aside.why not in text
    assert "1 of these are set aside, and not shown" in text


Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """``diagnose evaluate`` on the small trees: exit code, what was printed, what was said beside it."""

    def run(*arguments: str) -> tuple[int, str, str]:
        code = main(["evaluate", "--trees", str(SMALL), *arguments])
        captured = capsys.readouterr()
        return code, captured.out, captured.err

    return run


@pytest.fixture
def written(tmp_path: Path) -> str:
    path = tmp_path / "doors.yaml"
    path.write_text(THREE + THREE[THREE.index("- id: t02") : THREE.index("- id: t04")].replace("t02", "t03"))
    return str(path)


def test_the_command_plays_those_not_set_aside_the_others_or_all(run: Run, written: str) -> None:
    for flags, ids in (
        ((), ["t01", "t02", "t04"]),
        (("--aside",), ["t03"]),
        (("--all",), ["t01", "t02", "t04", "t03"]),
    ):
        code, output, _ = run("--json", *flags, "--processes", "1", "--doors", written)
        assert code == 0
        assert [door["door"] for door in json.loads(output)["doors"]] == ids


def test_the_command_prints_the_report_and_one_call_step_by_step(run: Run, written: str, tmp_path: Path) -> None:
    plot = tmp_path / "plot.svg"
    code, output, _ = run("--idle", "--processes", "1", "--plot", str(plot), "--doors", written)
    assert code == 0 and "3 doors from life (those set aside left out)" in output and "  idle  " in output
    assert plot.read_text().count("<circle") == output.count("came true")
    code, output, _ = run("--doors", written, "--show", "t01")
    assert code == 0 and "check eye-lamp-receiver" in output and "    → the complaint is gone" in output


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--aside"], "Without --doors, '--aside' means nothing."),
        (["--doors", "FILE", "--calls", "3"], "With --doors, '--calls' means nothing."),
        (["FILE"], "Write '--doors' before files of doors."),
        (["--doors", "FILE", "--aside", "--all"], "Write one of them."),
        (["--doors", "FILE", "--show", "t1"], "'t1' is no door of these files. Did you mean 't01'?"),
        (["--doors", "FILE", "--show", "t01", "--aside"], "'--show' plays the one door."),
        (["--doors", "FILE", "--show", "t01", "--json"], "'--show' prints the one call."),
        (["--doors", "FILE", "--family", "chain"], "'chain' is no family."),
        (["--doors", "nowhere.yaml"], "nowhere.yaml:1: This file cannot be read"),
    ],
)
def test_what_cannot_be_played_is_said_with_what_to_do(run: Run, written: str, arguments: list[str], said: str) -> None:
    code, _, error = run(*(written if each == "FILE" else each for each in arguments))
    assert code == 2 and said in " ".join(error.split())


# --- the doors that ship ------------------------------------------------------------------------------------------


def test_the_doors_that_ship_are_sound(shipped_trees: Trees) -> None:
    files = load_doors(shipped_trees, [SHIPPED])
    doors = [door for file in files for door in file.doors]
    assert len(doors) >= 150
    assert 0.25 < sum(door.set_aside for door in doors) / len(doors) < 0.4


@pytest.mark.long
def test_most_doors_from_life_are_found_and_mended(shipped_trees: Trees) -> None:
    """Floors on every second door, below what was measured: they hold what was reached, and are nothing to tune to."""
    files = load_doors(shipped_trees, [SHIPPED])
    doors = [door for file in files for door in file.doors if not door.set_aside]
    reached = figures(play_all(shipped_trees, doors[::2]))
    assert reached["right first"].value >= 0.80
    assert reached["no wrong remedy"].value >= 0.70
