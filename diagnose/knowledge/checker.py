"""Looking over a set of trees: rules, each small and named, and a summary of what is there.

A rule is a function that is given the ``Book`` and yields what it found. Its docstring is the page a user reads with
``diagnose trees check --list``: what is wrong when it speaks, with an example that passes and one that fails.
Rules that need no more than the entries are in ``knowledge.rules``; those that weigh answers, and the proof of
safety, stand above the reasoning, in ``diagnose.review`` and ``diagnose.safety``.
"""

from __future__ import annotations

import functools
import inspect
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple

from diagnose.knowledge.kept import Kept
from diagnose.knowledge.load import read_book
from diagnose.knowledge.marked_yaml import Marked
from diagnose.knowledge.model import KINDS, Entry, Trees
from diagnose.knowledge.problems import Place, Problem, Problems, Severity
from diagnose.knowledge.texts import caller_texts
from diagnose.knowledge.words import LIKELIHOOD_WORDS


class Finding(NamedTuple):
    """What a rule found: where, what is wrong, and what to do."""

    place: Place
    wrong: str
    mend: str


class Book:
    """Trees under review, with the lines they are written on.

    ``documents`` are the files as written, by name; without them a place is the line an entry starts on, and
    rules about the writing itself find nothing.
    """

    def __init__(self, trees: Trees, documents: Mapping[str, Marked] | None = None, kept: Kept | None = None) -> None:
        self.trees = trees
        self.documents = dict(documents or {})
        self.kept = kept or Kept()

    @staticmethod
    def read(folder: str | Path | None = None, kept: Kept | None = None) -> Book:
        """The trees below ``folder`` (by default those that ship). Raises ``TreeError`` when they cannot be loaded.

        What ``kept`` holds of an earlier review is not worked out again.
        """
        return Book(*read_book(folder), kept)

    def place(self, kind: str, identity: str, *path: str | int) -> Place:
        """The line of an entry, or of what is written below it at ``path``."""
        start = self.trees.place(kind, identity)
        marked = self.documents.get(start.file)
        return marked.place(kind, identity, *path) if marked else start

    def written(self, kind: str, identity: str) -> dict[str, Any]:
        """An entry as it stands in its file; empty without the files, and for one that no file holds."""
        marked = self.documents.get(self.trees.place(kind, identity).file)
        entry = (marked.value.get(kind) or {}).get(identity) if marked else None
        return entry if isinstance(entry, dict) else {}

    def entries(self, kind: str) -> dict[str, Entry]:
        found: dict[str, Entry] = getattr(self.trees, kind)
        return found

    def source(self, kind: str, identity: str) -> str:
        """Where an entry's numbers come from: its own word, or its file's; ``""`` where neither says."""
        marked = self.documents.get(self.trees.place(kind, identity).file)
        if marked is None:
            return self.entries(kind)[identity].source
        return str(self.written(kind, identity).get("source") or marked.value.get("source") or "")


class Fault(NamedTuple):
    """What is wrong with an entry, what to do, and the keys below it where that is written."""

    wrong: str
    mend: str
    at: tuple[str, ...] = ()


Look = Callable[[Book], Iterable[Finding]]


# ... of one entry, whatever its kind.
EntryLook = Callable[[Book, Any], Iterable[Fault]]


@dataclass(frozen=True)
class Rule:
    """One thing trees are held to."""

    name: str
    severity: Severity
    look: Look

    @property
    def page(self) -> str:
        """What the rule is about, with an example that passes and one that fails."""
        return inspect.cleandoc(self.look.__doc__ or "")

    @property
    def line(self) -> str:
        """The page's first sentence."""
        return re.split(r"(?<=\.)\s", " ".join(self.page.split("\n\n")[0].split()), maxsplit=1)[0]

    def problems(self, book: Book) -> Iterator[Problem]:
        for place, wrong, mend in self.look(book):
            yield Problem(place, wrong, mend, self.name, self.severity)


def rule(name: str, severity: Severity = "error") -> Callable[[Look], Rule]:
    """Make a rule of the function below."""
    return lambda look: Rule(name, severity, look)


def rule_of(kinds: Iterable[str], name: str, severity: Severity = "error") -> Callable[[EntryLook], Rule]:
    """Make a rule of the function below, which is given every entry of these kinds and says what is wrong with it."""

    def made(look: EntryLook) -> Rule:
        @functools.wraps(look)
        def each(book: Book) -> Iterator[Finding]:
            for kind in kinds:
                for identity, entry in book.entries(kind).items():
                    for fault in look(book, entry):
                        yield Finding(book.place(kind, identity, *fault.at), fault.wrong, fault.mend)

        return Rule(name, severity, each)

    return made


def check(book: Book, rules: Iterable[Rule]) -> Problems:
    """Everything that ``rules`` find in ``book``, in the order of files and lines."""
    problems = Problems()
    for each in rules:
        problems.extend(each.problems(book))
    return problems


# What holds words and not numbers, whatever it looks like.
_WORDED = frozenset(
    {
        *(
            "title",
            "caller",
            "plain",
            "explain",
            "ask",
            "how",
            "measure",
            "compute",
            "passes-when",
            "text",
            "instruction",
            "why",
            "mend",
        ),
        *(
            "looks-like",
            "danger",
            "what",
            "where",
            "also",
            "in-titles",
            "drawn",
            "texts",
            "words",
            "tool",
            "unit",
            "source",
            "reviewed",
        ),
        *(
            "who",
            "energy",
            "access",
            "at",
            "cautions",
            "proofs",
            "group",
            "family",
            "kinds",
            "marks",
            "formula",
            "measured",
            "series",
        ),
        *(
            "answers",
            "opens",
            "closes",
            "after",
            "applies",
            "unless",
            "many",
            "required",
            "first",
            "ask-first",
            "same-remedy",
        ),
        *("word", "urgency", "only-by", "only-in", "one-of"),
    }
)
_NUMBER = re.compile(r"[-+]?\.?\d.*")


@dataclass(frozen=True)
class Summary:
    """What a set of trees holds.

    ``counts`` are entries by name; ``numbers`` are counted by where their entry says it comes from, and
    ``from_memory`` of the published ones say that they were not looked up. ``missing`` is, by language, how many of
    ``caller_texts`` are not translated.
    """

    counts: Mapping[str, int]
    numbers: Mapping[str, int]
    from_memory: int
    caller_texts: int
    missing: Mapping[str, int]
    reviewed: int

    @cached_property
    def lines(self) -> tuple[str, ...]:
        counted = ", ".join(f"{count} {name}" for name, count in self.counts.items())
        total = sum(self.numbers.values())
        by_source = ", ".join(f"{count} {name}" for name, count in self.numbers.items() if count)
        memory = f" ({self.from_memory} of those from memory)" if self.from_memory else ""
        languages = "; ".join(
            f"{language}: {self.caller_texts - missing} translated, {missing} missing"
            for language, missing in self.missing.items()
        )
        return (
            counted,
            f"{total} numbers, by the source of their entry: {by_source}{memory}",
            f"{self.caller_texts} texts for callers; {languages or 'no other language'}",
            f"{self.reviewed} entries with a reviewer's note",
        )


def summarise(book: Book) -> Summary:
    """Count what ``book`` holds."""
    trees = book.trees
    kinds = [each.kind for each in trees.checks.values()]
    counts = {
        "families": len(trees.families),
        "symptoms": len(trees.symptoms),
        "causes": len(trees.causes),
        "checks": len(kinds),
        "questions": kinds.count("question"),
        "readings": kinds.count("reading"),
        "computed": kinds.count("computed"),
        "remedies": len(trees.remedies),
        "proofs": len(trees.proofs),
        "parts": len(trees.parts),
    }
    numbers = dict.fromkeys(("published", "open data", "common practice", "estimate", "without a source"), 0)
    memory = reviewed = 0
    for kind in KINDS:
        for identity, entry in book.entries(kind).items():
            count = _numbers(book.written(kind, identity))
            source = book.source(kind, identity)
            numbers[source_kind(source)] += count
            memory += count if source_kind(source) == "published" and "from memory" in source else 0
            reviewed += bool(entry.reviewed)
    told = caller_texts(trees)
    missing = {name: sum(key not in language.texts for key in told) for name, language in trees.languages.items()}
    return Summary(counts, numbers, memory, len(told), missing, reviewed)


def source_kind(source: str) -> str:
    """``published``, ``open data``, ``common practice``, ``estimate`` or ``without a source``; of two, the weaker."""
    if not source:
        return "without a source"
    for word in ("estimate", "common practice", "open data"):
        if word in source.casefold():
            return word
    return "published"


def _numbers(written: Any) -> int:
    if isinstance(written, dict):
        return sum(_numbers(value) for key, value in written.items() if key not in _WORDED)
    if isinstance(written, list):
        return sum(_numbers(item) for item in written)
    if isinstance(written, (int, float)):
        return 1
    if not isinstance(written, str):
        return 0
    return int(bool(_NUMBER.fullmatch(written)) or written.split(" to ")[0] in LIKELIHOOD_WORDS)
