"""Work that takes long says how far it is on a terminal, and is stopped without harm."""

from __future__ import annotations

import io
from pathlib import Path

import click
import pytest

from diagnose.commands.progress import progress
from diagnose.knowledge.kept import Kept


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_bar_on_a_terminal_and_nothing_elsewhere(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERM", "xterm")
    for target, shown in ((Terminal(), True), (io.StringIO(), False)):
        with progress("Doors", 3, target=target) as show:
            for number in range(3):
                show("one [by] one", number)
        assert ("Doors: one [by] one" in target.getvalue()) is shown


def test_what_is_stopped_says_how_far_it_came(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(click.Abort), progress("Doors", 5, kept="No figures are made.") as show:
        show("", 2)
        raise KeyboardInterrupt
    assert capsys.readouterr().err == "Doors: stopped after 2 of 5. No figures are made.\n"


def test_a_stopped_check_of_the_trees_keeps_what_it_worked_out(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    from diagnose import cli
    from diagnose.commands import trees
    from diagnose.knowledge import checker

    kept = tmp_path / "kept"
    before = Kept(kept)
    before.once("earlier", [b"x"], int, lambda: 1)
    before.save()
    monkeypatch.setattr(trees, "review_file", lambda *_: kept)
    small = Path(__file__).parents[1] / "tui" / "trees"

    def stopped(book: checker.Book, rules: object) -> None:
        book.kept.once("now", [b"y"], int, lambda: 2)
        raise KeyboardInterrupt

    monkeypatch.setattr(trees, "look_over", stopped)
    assert cli.main(["trees", "check", str(small)]) == 1
    after = Kept(kept)
    assert after.once("now", [b"y"], int, lambda: 0) == 2
    assert after.once("earlier", [b"x"], int, lambda: 0) == 1


def test_a_stopped_evaluation_shows_no_traceback(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from diagnose import cli
    from diagnose.practice import playing

    played: list[object] = []

    def play(*_: object, **__: object) -> object:
        if len(played) == 2:
            raise KeyboardInterrupt
        played.append(object())
        return played[-1]

    monkeypatch.setattr(playing, "play", play)
    doors = Path(__file__).parents[1] / "from_life"
    assert cli.main(["evaluate", "--doors", str(doors), "--processes", "1"]) == 1
    said = capsys.readouterr()
    assert "Doors from life: stopped after 2 of" in said.err and "Traceback" not in said.err
    assert said.out == ""
