"""An invariant: something that holds in every state there is, and a count of the states it was looked at in."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from diagnose.knowledge.checker import Book, Finding, Rule
from diagnose.knowledge.problems import Problem


class Visited:
    """How many states have been looked at so far."""

    def __init__(self) -> None:
        self.count = 0

    def add(self, states: int = 1) -> None:
        self.count += states


Explore = Callable[[Book, Visited], Iterable[Finding]]


@dataclass(frozen=True)
class Invariant(Rule):
    """A rule that visits every state and counts them."""

    explore: Explore

    def prove(self, book: Book) -> Outcome:
        visited = Visited()
        found = tuple(Problem(*finding, self.name, self.severity) for finding in self.explore(book, visited))
        return Outcome(self.name, visited.count, found)


@dataclass(frozen=True)
class Outcome:
    """What became of an invariant: states visited, and where it does not hold."""

    name: str
    visited: int
    violations: tuple[Problem, ...]


def invariant(name: str) -> Callable[[Explore], Invariant]:
    """Make an invariant of the function below; its docstring is the page."""

    def make(explore: Explore) -> Invariant:
        def look(book: Book) -> Iterator[Finding]:
            yield from explore(book, Visited())

        look.__doc__ = explore.__doc__
        return Invariant(name, "error", look, explore)

    return make


def in_words(outcomes: Sequence[Outcome]) -> str:
    """One line for a summary."""
    states = sum(outcome.visited for outcome in outcomes)
    violations = sum(len(outcome.violations) for outcome in outcomes)
    return f"safety: {len(outcomes)} invariants, {states} states visited, {violations} violations"
