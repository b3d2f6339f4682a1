"""A caller who stands before a hidden door: vague, often wrong, and soon tired of questions.

Not what a program would like to hear: a share of answers is "I do not know", a share is wrong, one complaint is taken
for another of its family, and at some question the caller hangs up. Signs of danger are there where the door has them,
and now and then besides; they are given to a question, to another one, or in a sentence of the caller's own.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from diagnose.knowledge.model import COULD_NOT_TELL, Danger, Trees, applies
from diagnose.practice.hidden_door import HiddenDoor
from diagnose.screening.interview import Question


@dataclass
class SimulatedCaller:
    """``said`` are the dangers whose sign the caller has given so far; ``gone`` once they hung up."""

    trees: Trees
    door: HiddenDoor
    random: np.random.Generator
    wrong: float = 0.15
    vague: float = 0.15
    # Questions that a caller answers, on the average, before hanging up.
    patience: float = 14.0
    said: set[str] = field(default_factory=set)
    gone: bool = False
    asked: int = 0

    def __post_init__(self) -> None:
        self.present = self._dangers_there()
        self._lasts = 2 + int(self.random.geometric(1 / (self.patience - 2)))

    def complaint(self, symptom: str) -> str:
        """What they complain of: now and then another complaint of the same family."""
        family = self.trees.symptoms[symptom].family
        others = [
            other.id
            for other in self.trees.symptoms.values()
            if other.family == family and other.id != symptom and applies(other.applies, self.door.facts)
        ]
        if others and self.random.random() < self.wrong:
            symptom = str(self.random.choice(others))
        self.said |= {d.id for d in self.trees.dangers.values() if symptom in d.symptoms and self._fits(d)}
        return symptom

    def danger(self, danger: Danger) -> bool:
        """Whether they say yes to a sign of danger. One that is not there is hardly ever claimed."""
        there = danger.id in self.present and self.random.random() >= self.wrong
        if there:
            self.said.add(danger.id)
        return there

    def own_words(self) -> str:
        """A sentence said in passing about a danger that they did not name when asked; often nothing."""
        unsaid = sorted(self.present - self.said)
        if not unsaid or self.random.random() < 0.3:
            return ""
        danger = str(self.random.choice(unsaid))
        self.said.add(danger)
        spoken = self.trees.dangers[danger].spoken
        return str(self.random.choice(spoken)) if spoken else ""

    def answer(self, question: Question) -> str | tuple[str, ...]:
        """An answer in the question's own words, ``could not tell``, or ``""`` once they have hung up."""
        self.asked += 1
        if self.asked > self._lasts:
            self.gone = True
            return ""
        if self.random.random() < self.vague:
            return COULD_NOT_TELL
        answer = self._check(question) if question.kind == "check" else self._fact(question)
        if isinstance(answer, str):
            for danger in self.trees.dangers.values():
                if question.kind == "check" and answer in danger.signs.get(question.id, ()) and self._fits(danger):
                    self.said.add(danger.id)
        return answer

    def _check(self, question: Question) -> str:
        truth = self.door.truth(self.trees.checks[question.id])
        if not isinstance(truth, str):
            return f"{truth} {self.trees.checks[question.id].unit}"
        return self._perhaps_wrong(truth, question.answers)

    def _fact(self, question: Question) -> str | tuple[str, ...]:
        truth = self.door.facts.get(question.id, COULD_NOT_TELL)
        if question.repeat:
            return self._perhaps_wrong("yes" if question.repeat == truth else "no", ("yes", "no"))
        if isinstance(truth, str):
            return self._perhaps_wrong(truth, question.answers)
        if self.random.random() < self.wrong:
            # One of the things it has is forgotten, or one is named that it does not have.
            slip = str(self.random.choice(list(question.answers)))
            return tuple(a for a in question.answers if (a in truth) != (a == slip)) or COULD_NOT_TELL
        return truth or COULD_NOT_TELL

    def _perhaps_wrong(self, truth: str, answers: tuple[str, ...]) -> str:
        others = [answer for answer in answers if answer != truth]
        return str(self.random.choice(others)) if others and self.random.random() < self.wrong else truth

    def _dangers_there(self) -> set[str]:
        """Those that the door's faults show, and now and then one that has nothing to do with its fault."""
        there = set()
        for danger in self.trees.dangers.values():
            if not self._fits(danger):
                continue
            seen = any(
                self.door.truth(self.trees.checks[check]) in answers
                for check, answers in danger.signs.items()
                if self._bears(check)
            )
            if seen or self.random.random() < 0.05:
                there.add(danger.id)
        return there

    def _bears(self, check: str) -> bool:
        signs = [self.trees.causes[fault].signs for fault in self.door.faults if fault in self.trees.causes]
        return any(check in each for each in signs)

    def _fits(self, danger: Danger) -> bool:
        return applies(danger.applies, self.door.facts)
