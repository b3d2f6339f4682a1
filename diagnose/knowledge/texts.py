"""Every text of the trees that a person reads, with its key, so that rules and translations look at the same ones."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from diagnose.knowledge.model import Caller, Check, Fact, Job, Proof, Remedy, Trees


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


def texts(trees: Trees) -> Iterator[Written]:
    """All of them, in the order of their kinds."""
    for symptom in trees.symptoms.values():
        yield Written("symptoms", symptom.id, ("title",), symptom.title)
        yield from _caller("symptoms", symptom.id, ("caller",), symptom.caller)
        yield from _caller("symptoms", symptom.id, ("plain",), symptom.plain)
    for cause in trees.causes.values():
        yield Written("causes", cause.id, ("title",), cause.title)
        yield from _some("causes", cause.id, ("explain",), cause.explain)
    for check in trees.checks.values():
        yield from _check(check)
    for remedy in trees.remedies.values():
        yield from _titled("remedies", remedy)
    for proof in trees.proofs.values():
        yield from _titled("proofs", proof)
    for job in trees.jobs.values():
        yield from _titled("jobs", job)
    for walk in trees.walks.values():
        yield Written("walks", walk.id, ("title",), walk.title)
        yield from _some("walks", walk.id, ("explain",), walk.explain)
        for name, stage in walk.stages.items():
            yield Written("walks", walk.id, ("stages", name, "title"), stage.title)
    for caution in trees.cautions.values():
        yield Written("cautions", caution.id, ("text",), caution.text)
    for state in trees.energy.values():
        yield Written("energy", state.id, ("title",), state.title)
        yield from _some("energy", state.id, ("how",), state.how)
        for name, source in state.sources.items():
            yield Written("energy", state.id, ("sources", name, "how"), source.how)
    for fact in trees.facts.values():
        yield Written("facts", fact.id, ("title",), fact.title)
        yield from _some("facts", fact.id, ("group",), fact.group)
        for answer, called in fact.titles.items():
            yield Written("facts", fact.id, ("titles", answer), called)
        yield Written("facts", fact.id, ("ask",), fact.ask)
        yield from _some("facts", fact.id, ("how",), fact.how)
        yield from _put_to_caller("facts", fact, fact.caller)
    for danger in trees.dangers.values():
        yield Written("dangers", danger.id, ("title",), danger.title)
        for field in ("ask", "plain", "instruction"):
            yield from _caller("dangers", danger.id, (field,), getattr(danger, field))
    for preparation in trees.preparations.values():
        yield from _caller("preparations", preparation.id, ("caller",), preparation.caller)
    for component in trees.components.values():
        for field in ("title", "what", "where", "looks-like", "danger"):
            text = getattr(component, field.replace("-", "_"))
            yield from _some("components", component.id, (field,), text)
        yield from _caller("components", component.id, ("caller",), component.caller)
    for language in trees.languages.values():
        for key, text in language.texts.items():
            yield Written("languages", language.id, ("texts", key), text, "caller")


def caller_texts(trees: Trees) -> dict[str, str]:
    """What is said to a caller, by key: what a language translates."""
    told = (written for written in texts(trees) if written.reader == "caller" and written.kind != "languages")
    return {written.key: written.text for written in told}


def _check(check: Check) -> Iterator[Written]:
    field = "ask" if check.ask else "measure" if check.measure else "compute"
    yield Written("checks", check.id, (field,), check.text)
    for answer in check.answers:
        yield Written("checks", check.id, ("answers", answer), answer)
    yield from _some("checks", check.id, ("how",), check.how)
    yield from _put_to_caller("checks", check, check.caller)


def _titled(kind: str, step: Remedy | Proof | Job) -> Iterator[Written]:
    yield Written(kind, step.id, ("title",), step.title)
    yield from _some(kind, step.id, ("how",), step.how)
    if isinstance(step, (Proof, Job)):
        yield Written(kind, step.id, ("passes-when",), step.passes_when)


def _put_to_caller(kind: str, entry: Check | Fact, caller: Caller | None) -> Iterator[Written]:
    if caller is None:
        return
    yield from _caller(kind, entry.id, ("caller", "ask"), caller.ask)
    yield from _caller(kind, entry.id, ("caller", "plain"), caller.plain)
    # An answer the caller has no words of their own for is read out as it stands.
    for answer in dict.fromkeys([*entry.answers, *caller.answers]):
        yield from _caller(kind, entry.id, ("caller", "answers", answer), caller.answers.get(answer, answer))


def _some(kind: str, identity: str, field: tuple[str, ...], text: str) -> Iterator[Written]:
    if text:
        yield Written(kind, identity, field, text)


def _caller(kind: str, identity: str, field: tuple[str, ...], text: str) -> Iterator[Written]:
    if text:
        yield Written(kind, identity, field, text, "caller")
