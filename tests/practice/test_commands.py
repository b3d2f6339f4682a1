"""``diagnose practise`` and ``diagnose scenario`` as they are typed, over piped input."""

from __future__ import annotations

import io
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from diagnose.cli import main
from diagnose.practice.acts import CallIn, Enter, Finish, Look, Mend, Prove, TryDoor
from diagnose.practice.bots import carry_through
from diagnose.practice.library import load_library
from diagnose.practice.session import Session
from diagnose.practice.simulated import planned
from tests.conftest import SMALL

from .conftest import SCENARIOS

Run = Callable[..., tuple[int, str]]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(SCENARIOS, tmp_path / "scenarios"))


@pytest.fixture
def run(tmp_path: Path, folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """A command with lines typed; gives the exit code and all that was said."""
    monkeypatch.setenv("DIAGNOSE_LOG", str(tmp_path / "faults.log"))

    def run(*arguments: str, lines: str = "") -> tuple[int, str]:
        monkeypatch.setattr("sys.stdin", io.StringIO(lines))
        known = ["--trees", str(SMALL), "--store", str(tmp_path / "calls.sqlite3")]
        more = ["--scenarios", str(folder)] if arguments[0] == "practise" else []
        code = main([*known, *arguments, *more])
        captured = capsys.readouterr()
        assert not (tmp_path / "faults.log").exists(), (tmp_path / "faults.log").read_text()
        return code, captured.out + captured.err

    return run


def typed_way(session: Session) -> str:
    """What one would type to do what the program itself would."""
    carry_through(session, planned)
    trees = session.trees
    lines: list[str] = []
    for done in session.done:
        match done.act:
            case Look(check=name):
                lines += [f"look {name}", "1"]
            case Mend(remedy=name):
                lines += [f"mend {name}", "1"]
            case Prove(proof=name):
                lines += [f"prove {name}", "1"]
            case Enter(energy=name):
                lines += [f"state {trees.energy[name].title}", "1"]
            case CallIn(person=name):
                lines.append(f"call {trees.people[name].title}")
            case TryDoor():
                lines.append("try")
            case Finish():
                lines += ["close", "1"]
    return "\n".join(lines) + "\n"


def test_a_whole_practice_line_by_line_and_its_debriefing(run: Run, small_trees, folder: Path, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    library = load_library(small_trees, folder)
    script = typed_way(Session(small_trees, library.scenarios["quiet-lane"], 0, library.consequences))
    page = tmp_path / "page.html"
    code, said = run("practise", "quiet-lane", "--plain", "--export", str(page), lines=script)
    assert code == 0, said
    assert said.index("A small light") < said.index("Complaint:") < said.index("[0 min, $0, powered, covers on]")
    assert "SCORE: 100 OF 100" in said
    assert "It teaches: Measure before a part is bought." in " ".join(said.split())
    assert "Every step was as good as the best" in said
    assert "<svg" in page.read_text(encoding="utf-8")
    assert "\x1b" not in said


def test_cautions_come_before_the_step_and_what_befalls_one_is_marked(run: Run) -> None:
    script = "repair splice\n1\nstate off\n1\nanswers\nwithdraw 1\nhint\n1\nhint likely\ndoor\nhelp\nwhatever\n\nquit\n"
    code, said = run("practise", "quiet-lane", "--plain", "--trainee", "Ana", lines=script)
    assert code == 1
    flat = " ".join(said.split())
    assert flat.index("DANGER: Mains voltage inside") < flat.index("Do it, as the door stands")
    assert "! A bite through the wrist." in flat
    assert "Something broke that was whole before." in flat
    assert "every time (as told)" in flat
    assert "Counted no more" in flat
    assert "That hint costs 3 points." in flat
    assert "That hint costs 2 points." in flat
    assert "stays open" in flat


def test_it_goes_on_where_input_ended(run: Run) -> None:
    code, said = run("practise", "quiet-lane", "--plain", "--trainee", "Ana", lines="look eye-lamp-receiver\n1\n")
    assert code == 1
    assert "gone on with at the next start" in " ".join(said.split())
    code, said = run("practise", "--plain", "--trainee", "Ana", lines="1\nfound\nclose\n2\nLater.\n")
    assert code == 1
    assert "1. Go on with: A small light" in said
    assert "What does the lamp on the receiving photo eye do? dark" in " ".join(said.split())
    assert "SCORE:" in said
    code, said = run("practise", "--plain", "--trainee", "Ana", lines="")
    assert "Go on with" not in said


def test_a_door_is_drawn_by_what_is_said_of_it_and_the_seed_repeats_it(run: Run) -> None:
    arguments = ("practise", "--plain", "--seed", "5", "--faults", "2", "--misleading-caller", "--difficulty", "hard")
    first, second = run(*arguments, lines="quit\n"), run(*arguments, lines="quit\n")
    assert first == second
    assert "(hard)" in first[1]
    assert ", the caller says:" in first[1]


def test_the_record_the_class_and_a_debriefing_again(run: Run, tmp_path: Path) -> None:
    close = "close\n2\nEnough.\n"
    for name in ("Ana", "Ben"):
        run("practise", "quiet-lane", "--plain", "--trainee", name, lines=f"mend replace the photo\n1\n{close}")
    code, said = run("practise", "--progress", "--trainee", "Ana")
    assert code == 0
    assert "Ana: 1 practice, at" in said
    assert "Thrift with parts" in said
    assert "Next: A small light (quiet-lane)." in said
    code, said = run("practise", "--class")
    assert code == 0
    assert "Ana: mean" in said
    assert "Ben: mean" in said
    assert "2 trainees, 2 times: Hands on live parts." in " ".join(said.split())
    code, said = run("practise", "--debrief", "last")
    assert code == 0
    assert "WHERE IT FIRST WENT WRONG: STEP 1" in said
    text = tmp_path / "last.md"
    assert run("practise", "--debrief", "last", "--export", str(text))[0] == 0
    assert text.read_text(encoding="utf-8").startswith("# Debriefing: A small light")
    assert "best score" in run("practise", "--list", "--trainee", "Ana")[1]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("practise", "quiet-lne"), "Did you mean 'quiet-lane'?"),
        (("practise", "--family", "sensor-indicators"), "Did you mean 'sensor-indicator'?"),
        (("practise", "--debrief", "x9"), "There is no practice 'x9'"),
        (("practise", "--seed", "many"), "not a valid"),
        (("scenario", "reveal", "none.yaml"), "cannot be read"),
        (("scenario", "veil", "none.yaml"), "cannot be read"),
        (("scenario", "check", "nowhere"), "no folder of scenarios"),
    ],
)
def test_what_cannot_be_done_is_said_in_a_sentence(run: Run, arguments: tuple[str, ...], said: str) -> None:
    code, told = run(*arguments)
    assert code in (1, 2)
    assert said in told
    assert "Traceback" not in told


def test_nobody_on_record_is_said(run: Run) -> None:
    code, said = run("practise", "--class")
    assert code == 1
    assert "Nobody has finished a practice yet." in said


# --- scenarios -----------------------------------------------------------------------------------------------------


def test_a_draft_is_veiled_revealed_and_opened_again(run: Run, folder: Path) -> None:
    file = folder / "quiet-lane.yaml"
    draft = f"# A comment stays.\n{file.read_text(encoding='utf-8')}"
    file.write_text(draft, encoding="utf-8")
    code, said = run("scenario", "check", str(folder))
    assert code == 0
    assert "quiet-lane.yaml:17: The cause stands open" in said
    assert run("scenario", "veil", str(file))[0] == 0
    veiled = file.read_text(encoding="utf-8")
    assert "eye-wiring-open" not in veiled
    assert "hidden: >-" in veiled
    assert veiled.startswith("# A comment stays.\n")
    code, said = run("scenario", "check", str(folder))
    assert (code, "stands open" in said) == (0, False)
    revealed = run("scenario", "reveal", str(file))[1]
    assert "causes: [eye-wiring-open]" in revealed
    assert "Measure before a part is bought." in revealed
    assert run("scenario", "veil", "--open", str(file))[0] == 0
    opened = file.read_text(encoding="utf-8")
    assert "hidden" not in opened
    assert run("scenario", "veil", str(file))[0] == 0
    assert file.read_text(encoding="utf-8") == veiled


def test_check_counts_and_gives_each_fault_its_place(run: Run, folder: Path) -> None:
    code, said = run("scenario", "check", str(folder))
    assert "1 scenarios (1 easy, 0 medium, 0 hard) of 1 families" in said
    file = folder / "quiet-lane.yaml"
    file.write_text(file.read_text(encoding="utf-8").replace("drive: trolley", "drive: sled"), encoding="utf-8")
    code, said = run("scenario", "check", str(folder))
    assert code == 1
    assert "error: quiet-lane.yaml:9: 'sled' is no answer to 'drive'." in said


def test_the_veil_holds_whatever_stands_around_it(run: Run, folder: Path) -> None:
    """A secret in the middle of a file, in block form, is taken out whole and nothing else is."""
    file = folder / "quiet-lane.yaml"
    text = file.read_text(encoding="utf-8")
    body = text[: text.index("causes:")]
    block = "causes:\n- eye-wiring-open\nfindings:\n  eye-lamp-receiver: dark\nteaches: |\n  Two\n\n  lines.\n"
    file.write_text(f"{block}\n{body}", encoding="utf-8")
    assert run("scenario", "veil", str(file))[0] == 0
    kept = file.read_text(encoding="utf-8").split("hidden:")[0]
    assert kept.strip() == body.strip()
