"""A word of the plain talks has one meaning in all of them; what is copied there goes to the terminal's clipboard."""

from __future__ import annotations

import base64
import io
from collections import defaultdict
from types import SimpleNamespace
from typing import Any, cast

import pytest

from diagnose.commands.console import Console
from diagnose.commands.interview import Interview
from diagnose.commands.lines import Lines
from diagnose.commands.phone_lines import PhoneLines
from diagnose.commands.practise_lines import PracticeLines
from diagnose.knowledge.model import Trees
from tests.sitting.conftest import a_call

# A word that several talks know means the same in each.
SHARED = {
    "back": "undo the last thing said",
    "note": "keep some words that nobody asked for",
    "where": "where on a door the thing in question sits",
    "cautions": "the cautions of the step, in full",
    "answers": "what was found so far, numbered",
    "withdraw": "an answer counts no more",
    "repair": "go to a repair",
    "proofs": "what must pass before the door returns to service",
    "state": "the state the door is in",
    "door": "the door, as it was described at the beginning",
    "close": "end the call",
    "copy": "to the clipboard",
    "quit": "stop here; it stays open",
    "help": "the words there are",
}


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def talks(trees: Trees, console: Console) -> dict[str, Lines]:
    some: Any = SimpleNamespace(trees=trees, scenario=SimpleNamespace(walk=""))
    return {
        "interview": Interview(a_call(trees), "x", console),
        "phone": PhoneLines(some, console, "", "", ""),
        "practice": PracticeLines(some, some, console),
    }


@pytest.fixture
def every(trees: Trees) -> dict[str, Lines]:
    return talks(trees, Console(80, io.StringIO(), io.StringIO()))


def test_a_word_means_the_same_in_every_talk(every: dict[str, Lines]) -> None:
    knows: dict[str, set[str]] = defaultdict(set)
    stands_for: dict[str, set[str]] = defaultdict(set)
    for name, talk in every.items():
        for word in talk._commands:
            knows[word].add(name)
            stands_for[word].add(word)
        for word, canonical in talk._aliases.items():
            assert canonical in talk._commands
            stands_for[word].add(canonical)
    assert {word: several for word, several in stands_for.items() if len(several) > 1} == {}
    assert {word for word, names in knows.items() if len(names) > 1} == set(SHARED)


def test_a_record_and_an_answer_are_copied(trees: Trees) -> None:
    out = Terminal()
    lines = "1\ncopy 1\ncopy\ncopy 9\nquit\n"
    call = a_call(trees)
    Interview(call, "x", Console(80, io.StringIO(lines), cast("Any", out))).run()
    first, second = [base64.b64decode(part.split("\a")[0]).decode() for part in out.getvalue().split("\x1b]52;c;")[1:]]
    assert first.endswith("steady") and "\n" not in first
    assert second.startswith("Service record, x")
    assert "Copied: answer 1." in out.getvalue() and "Say which by its number" in out.getvalue()


def test_without_a_terminal_nothing_is_copied(trees: Trees) -> None:
    out = io.StringIO()
    Interview(a_call(trees), "x", Console(80, io.StringIO("copy\nquit\n"), out)).run()
    assert "no clipboard" in out.getvalue() and "\x1b" not in out.getvalue()
