"""What is read out to a caller, in the caller's language; what is not translated is read out as it stands."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from diagnose.knowledge.model import COULD_NOT_TELL, Check, Component, Danger, Fact, Preparation, Symptom, Trees

if TYPE_CHECKING:
    from diagnose.screening.interview import Question

_NONE: Mapping[str, str] = {}
# What is said by the program itself; a language says it under these keys.
PHRASES = {
    "phone.before-all": "Before anything else:",
    "phone.none-of-these": "none of these",
    "phone.what-is-wrong": "What does the door do, or not do?",
    "phone.could-not-tell": "I do not know",
    "phone.from-memory": "Only from what you have seen already; please do not run it now.",
    "phone.say-back": "So: {answer}. Is that right?",
    "phone.yes": "yes",
    "phone.no": "no",
    "phone.please-have-ready": "Before we come:",
}


class Spoken:
    """Texts of ``trees`` in ``language`` (``""`` for the language the trees are written in)."""

    def __init__(self, trees: Trees, language: str = "") -> None:
        self.language = language
        self._trees = trees
        known = trees.languages.get(language)
        self._texts = known.texts if known else _NONE

    def phrase(self, key: str) -> str:
        return self._texts.get(key, PHRASES[key])

    def symptom(self, symptom: Symptom) -> str:
        return self._text(f"symptoms.{symptom.id}.caller", symptom.caller)

    def symptom_plain(self, symptom: Symptom) -> str:
        return self._text(f"symptoms.{symptom.id}.plain", symptom.plain or symptom.caller)

    def danger(self, danger: Danger) -> str:
        return self._text(f"dangers.{danger.id}.ask", danger.ask)

    def danger_plain(self, danger: Danger) -> str:
        return self._text(f"dangers.{danger.id}.plain", danger.plain or danger.ask)

    def instruction(self, danger: Danger) -> str:
        return self._text(f"dangers.{danger.id}.instruction", danger.instruction)

    def preparation(self, preparation: Preparation) -> str:
        return self._text(f"preparations.{preparation.id}.caller", preparation.caller)

    def component(self, component: Component) -> str:
        """Where to look for a component; ``""`` for one that is nothing for a caller to look at."""
        return self._text(f"components.{component.id}.caller", component.caller) if component.caller else ""

    def question(self, question: Question) -> str:
        """What to read out for a question."""
        entry = self._entry(question)
        if question.repeat:
            return self.phrase("phone.say-back").format(answer=self.answer(entry, question.repeat))
        ask = self.ask(entry)
        if isinstance(entry, Check) and self._trees.energy[entry.energy].powered == "yes":
            # At the door it is looked at while the door runs; nobody is asked to run it for a question.
            return f"{self.phrase('phone.from-memory')} {ask}"
        return ask

    def question_plain(self, question: Question) -> str:
        return self.plain(self._entry(question))

    def answers(self, question: Question) -> list[str]:
        """Its answers in the caller's words, in order."""
        if question.repeat:
            return [self.phrase("phone.yes"), self.phrase("phone.no")]
        return [self.answer(self._entry(question), answer) for answer in question.answers]

    def ask(self, entry: Check | Fact) -> str:
        caller = entry.caller
        written = entry.text if isinstance(entry, Check) else entry.ask
        return self._text(f"{_kind(entry)}.{entry.id}.caller.ask", caller.ask if caller else written)

    def plain(self, entry: Check | Fact) -> str:
        """The same again in other words; where there are none, the question itself."""
        plain = entry.caller.plain if entry.caller else ""
        return self._text(f"{_kind(entry)}.{entry.id}.caller.plain", plain) if plain else self.ask(entry)

    def answer(self, entry: Check | Fact, answer: str) -> str:
        """An answer in the caller's words."""
        if answer == COULD_NOT_TELL:
            return self.phrase("phone.could-not-tell")
        words = entry.caller.answers.get(answer, answer) if entry.caller else answer
        return self._text(f"{_kind(entry)}.{entry.id}.caller.answers.{answer}", words)

    def _entry(self, question: Question) -> Check | Fact:
        return self._trees.facts[question.id] if question.kind == "fact" else self._trees.checks[question.id]

    def _text(self, key: str, written: str) -> str:
        return self._texts.get(key, written)


def _kind(entry: Check | Fact) -> str:
    return "checks" if isinstance(entry, Check) else "facts"


def next_language(languages: Iterable[str], now: str) -> str:
    """The language after ``now``; the trees' own comes after the last."""
    order = ["", *languages]
    return order[(order.index(now) + 1) % len(order)] if now in order else ""
