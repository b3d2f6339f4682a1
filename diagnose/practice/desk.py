"""Where a trainee sits down: a scenario is begun, gone on with or finished, and the record kept."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime

import msgspec

from diagnose.knowledge.model import Trees
from diagnose.practice import acts
from diagnose.practice.debrief import Debrief, debrief
from diagnose.practice.library import Library
from diagnose.practice.mishaps import EXPOSURE_WORDS
from diagnose.practice.progress import Advice, Progress, next_practice, progress_of
from diagnose.practice.records import Practice, Records, Result, WrongTurn
from diagnose.practice.scenario import Scenario, family_of
from diagnose.practice.scene import PracticeError
from diagnose.practice.session import Session


class Desk:
    """One trainee, the scenarios, and the record; without ``records`` nothing is kept."""

    def __init__(self, trees: Trees, library: Library, records: Records | None, trainee: str) -> None:
        self.trees = trees
        self.library = library
        self.records = records
        self.trainee = trainee

    def begin(self, scenario: Scenario, seed: int | None = None, hints: bool = True) -> Session:
        """Sit down at a scenario. Without a seed everybody's first try is the same door, and each later one another."""
        if seed is None:
            seed = sum(practice.scenario.id == scenario.id for practice in self.practices())
        session = Session(self.trees, scenario, seed, self.library.consequences, hints=hints)
        if self.records is not None:
            identity = self.records.begin_practice(self.trainee, scenario, seed, hints, self.digest)
            session.keep_as(identity, self.records.act_recorder(identity))
        return session

    def resume(self, practice: Practice) -> Session:
        """Go on where a practice stopped. Raises ``PracticeError`` where its door would now answer otherwise."""
        assert self.records is not None
        if practice.digest != self.digest:
            raise PracticeError(
                "The trees or the mishaps have changed since this was begun, and its door would not answer as it did. "
                "Begin it anew."
            )
        done, known = self.records.acts(practice.id), self.library.consequences
        session = Session(self.trees, practice.scenario, practice.seed, known, hints=practice.hints, history=done)
        session.keep_as(practice.id, self.records.act_recorder(practice.id))
        return session

    def look_back(self, practice: Practice) -> Debrief:
        """The debriefing of a finished practice, made again. Raises ``PracticeError`` as ``resume`` does."""
        session = self.resume(practice)
        if not session.is_over:
            raise PracticeError(f"Practice {practice.id} is not finished yet.")
        return debrief(session)

    def finish(self, session: Session) -> Debrief:
        """The debriefing of a practice that is over, and its result on record."""
        found = debrief(session)
        if self.records is not None and session.id:
            self.records.finish(session.id, result_of(found))
        return found

    def practices(self) -> list[Practice]:
        return self.records.practices(self.trainee) if self.records is not None else []

    def unfinished(self) -> list[Practice]:
        """Practices that can be gone on with, the latest first."""
        return [p for p in reversed(self.practices()) if p.result is None and p.digest == self.digest]

    def progress(self) -> Progress:
        return progress_of(self.practices())

    def advice(self, now: datetime | None = None) -> Advice | None:
        return next_practice(self.trees, self.library.scenarios, self.progress(), now or datetime.now(UTC))

    @property
    def digest(self) -> str:
        """Names all that a door's answers hang on, besides its scenario and seed."""
        consequences = self.library.consequences
        told = msgspec.json.encode((consequences.mishaps, consequences.without_power, consequences.prepares))
        return f"{self.trees.digest[:16]}-{hashlib.sha256(told).hexdigest()[:8]}"


def result_of(found: Debrief) -> Result:
    session = found.session
    return Result(
        score=round(found.score.total, 2),
        solved=found.solved,
        minutes=round(session.clock, 2),
        money=round(session.money, 2),
        family=family_of(session.trees, session.scenario),
        level=session.scenario.level,
        habits={part.habit: round(part.share, 4) for part in found.score.parts if part.share is not None},
        hints=found.score.hints,
        wrong_turn=_wrong_turn(found),
    )


def _wrong_turn(found: Debrief) -> WrongTurn | None:
    """The first wrong step, said so that the same one of another trainee is said alike."""
    item = found.first_wrong
    if item is None:
        return None
    trees, act = found.session.trees, item.done.act
    if item.done.happened:
        first = item.done.happened[0]
        did = first.mishap.title if first.mishap else EXPOSURE_WORDS[first.exposure]
        return WrongTurn(did=did, better="", loss=round(item.loss, 1))
    did = item.text
    if isinstance(act, acts.Look):
        did = trees.checks[act.check].text
    elif isinstance(act, acts.Mend):
        did = trees.remedies[act.remedy].title
    better = "power on first" if item.done.false else item.best
    return WrongTurn(did=did, better=better, loss=round(item.loss, 1))
