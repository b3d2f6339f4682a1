"""Every text of the trees that a person reads, with its key, so that rules and translations look at the same ones."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from diagnose.knowledge.model import Check, Fact, Trees


@dataclass(frozen=True)
class Written:
    """One text. ``key`` is ``checks.eye-lamp.caller.ask`` and the like; ``reader`` is who it is for."""

    kind: str
    id: str
    field: tuple[str, ...]
    text: str
    reader: Literal["technician", "caller"] = "technician"

    @property
    def key(self) -> str:
        return ".".join((self.kind, self.id, *self.field))

    @property
    def asks_of_caller(self) -> bool:
        """It has a caller do something, if only look; complaints and answers are the caller's own words."""
        kind, *field = self.translates.split(".") if self.kind == "languages" else (self.kind, *self.field)
        return self.reader == "caller" and kind != "symptoms" and "answers" not in field

    @property
    def translates(self) -> str:
        """The key of the text that this one is another language's wording of; ``""`` where it is none."""
        return self.field[-1] if self.kind == "languages" else ""


# Of each kind of entry, what is read by whoever works there, and what is read out to a caller. A star stands for every
# name, or every item, that is written there.
_READ: dict[str, tuple[str, str]] = {
    "symptoms": ("title", "caller plain"),
    "causes": ("title explain", ""),
    "checks": ("ask measure compute answers.* how", "caller.ask caller.plain"),
    "remedies": ("title how", ""),
    "proofs": ("title how passes-when", ""),
    "jobs": ("title how passes-when", ""),
    "walks": ("title explain stages.*.title", ""),
    "cautions": ("text", ""),
    "energy": ("title how sources.*.how", ""),
    "facts": ("title group titles.* ask how", "caller.ask caller.plain"),
    "dangers": ("title", "ask plain instruction"),
    "preparations": ("", "caller"),
    "components": ("title what where looks-like danger", "caller"),
    "languages": ("", "texts.*"),
}


def texts(trees: Trees) -> Iterator[Written]:
    """All of them, in the order of their kinds."""
    for kind, (worker, caller) in _READ.items():
        for entry in getattr(trees, kind).values():
            for path in worker.split():
                yield from (Written(kind, entry.id, field, text) for field, text in _found(entry, path.split(".")))
            for path in caller.split():
                for field, text in _found(entry, path.split(".")):
                    yield Written(kind, entry.id, field, text, "caller")
            if isinstance(entry, Check | Fact) and entry.caller is not None:
                # An answer the caller has no words of their own for is read out as it stands.
                for answer in dict.fromkeys([*entry.answers, *entry.caller.answers]):
                    said = entry.caller.answers.get(answer, answer)
                    yield Written(kind, entry.id, ("caller", "answers", answer), said, "caller")


def caller_texts(trees: Trees) -> dict[str, str]:
    """What is said to a caller, by key: what a language translates."""
    told = (written for written in texts(trees) if written.reader == "caller" and written.kind != "languages")
    return {written.key: written.text for written in told}


def _found(thing: Any, path: Sequence[str]) -> Iterator[tuple[tuple[str, ...], str]]:
    """What is written below a thing at ``path``, each with its own path; nothing where nothing is written."""
    if not thing:
        return
    if not path:
        yield (), thing
        return
    first, *rest = path
    below: Mapping[str, Any]
    if first != "*":
        below = {first: getattr(thing, first.replace("-", "_"))}
    else:
        below = thing if isinstance(thing, Mapping) else {each: each for each in thing}
    for name, each in below.items():
        yield from (((name, *field), text) for field, text in _found(each, rest))
