"""What is wrong in a set of trees, collected rather than raised one by one.

An author who has made five mistakes wants to hear of all five at once, each with its place and its mend.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator
from typing import Literal

import msgspec

Severity = Literal["error", "warning"]


class Place(msgspec.Struct, frozen=True):
    """A line of a file, counted from 1, and where it matters the column there; 0 is the whole line."""

    file: str
    line: int
    column: int = 0

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}" if self.column else f"{self.file}:{self.line}"


class Problem(msgspec.Struct, frozen=True):
    """One fault: where it is, what is wrong, and what to do about it."""

    place: Place
    wrong: str
    mend: str
    rule: str
    severity: Severity = "error"

    def __str__(self) -> str:
        return f"{self.place}: {self.wrong} {self.mend}".rstrip()


# No word that is meant has more letters.
_LONG_WORD = re.compile(r"(\S{40})\S{80,}")


def _short(said: str) -> str:
    """A sentence in which no word that was found in a file runs on over pages."""
    return _LONG_WORD.sub(r"\1…", said)


class Problems:
    """A growing list of problems; order of discovery does not matter, they are sorted when read."""

    def __init__(self) -> None:
        self._found: list[Problem] = []

    def error(self, place: Place, wrong: str, mend: str, rule: str) -> None:
        self._found.append(Problem(place, _short(wrong), _short(mend), rule))

    def warn(self, place: Place, wrong: str, mend: str, rule: str) -> None:
        self._found.append(Problem(place, _short(wrong), _short(mend), rule, "warning"))

    def extend(self, problems: Iterable[Problem]) -> None:
        self._found.extend(problems)

    @property
    def errors(self) -> tuple[Problem, ...]:
        return tuple(problem for problem in self if problem.severity == "error")

    def __iter__(self) -> Iterator[Problem]:
        return iter(sorted(set(self._found), key=lambda p: (p.place.file, p.place.line, p.place.column, p.wrong)))

    def __len__(self) -> int:
        return len(self._found)


class TreeError(Exception):
    """The trees cannot be used. ``problems`` holds every fault found; ``str`` gives them a line each."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """``Did you mean 'drive'?`` for a near miss among ``known``, otherwise what may be written there."""
    choices = sorted(known)
    # What is that long resembles nothing, and comparing it takes minutes.
    close = difflib.get_close_matches(word, choices, n=1, cutoff=0.6) if len(word) < 200 else []
    if close:
        return f"Did you mean '{close[0]}'?"
    if not choices:
        return "None is defined yet."
    shown = ", ".join(choices[:12]) + (", …" if len(choices) > 12 else "")
    return f"Known: {shown}."
