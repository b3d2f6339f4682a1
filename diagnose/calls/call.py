"""``Call``: one job on one door, from the first ring to the closed record.

The surface that screens, the shell and other people's programs use. It appends events, folds them, and asks the
reasoning what follows; it keeps nothing else.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from datetime import UTC, datetime
from typing import Any, Literal, get_args

from msgspec.structs import replace as replace_in

from diagnose.calls import events as ev
from diagnose.calls.answering import AnswerError, Understood, understand
from diagnose.calls.closing import Missing, in_words, ledger
from diagnose.calls.complaints import Fitting, fitting_better
from diagnose.calls.known import BACK, Known
from diagnose.calls.likely import Evidence, Likely, Surprise, likely, nothing_fits, surprise, untested
from diagnose.calls.next_step import HAND_OVER, Step, next_step
from diagnose.calls.state import fold, folded, standing
from diagnose.knowledge.fitting import misfits
from diagnose.knowledge.model import COULD_NOT_TELL, STEPS, Task, Trees, as_facts, can_do, usual_people
from diagnose.knowledge.problems import did_you_mean

Clock = Callable[[], datetime]
Recorder = Callable[[ev.AnyEvent], None]


class CallError(ValueError):
    """What was asked of the call makes no sense; ``str`` says why and what to do."""


class WordNeeded(CallError):
    """What is taken back is something the closing of the call hangs on: say it again with a reason.

    ``lost`` names what would no longer have to be proved. ``fact`` is the fact it is about, where the word needed is
    what became of what the door had; else ``""``.
    """

    def __init__(self, sentence: str, lost: tuple[Missing, ...], fact: str = "") -> None:
        super().__init__(sentence)
        self.lost, self.fact = lost, fact


class Call(Known):
    """A call on ``trees``. Every method that changes it appends one event.

    ``goal`` says what the call is for: ``repair``, down to a proven door, or ``cause``, which asks until a cause is
    ``sure`` (a probability) or nothing left to ask can matter; by default it is ``repair`` where the trees know any.
    ``people`` are those there, by default the trees' usual ones. ``walk`` names work to be done and proved at the door
    in place of, or before, any complaint.

    ``recorder`` is given each event before it counts: when it raises, nothing has happened. ``clock`` gives the
    time an event is stamped with. Raises ``CallError`` for facts, symptoms or people that the trees do not know.
    """

    def __init__(
        self,
        trees: Trees,
        facts: Mapping[str, Any] | None = None,
        symptoms: Iterable[str] = (),
        *,
        site: str = "",
        door: str = "",
        people: Iterable[str] | None = None,
        walk: str = "",
        goal: Literal["repair", "cause"] | None = None,
        sure: float = 0.95,
        by: str = "",
        clock: Clock | None = None,
        recorder: Recorder | None = None,
        history: Iterable[ev.AnyEvent] | None = None,
    ) -> None:
        if goal not in (None, "repair", "cause") or not 0 < sure <= 1:
            raise CallError("A call's goal is 'repair' or 'cause', and how sure to be lies above 0 and is at most 1.")
        super().__init__(trees, history or (), goal or ("repair" if trees.remedies else "cause"), sure)
        self.by = by
        self._clock = clock or (lambda: datetime.now(UTC))
        self._recorder = recorder
        self._fitting: tuple[Fitting, ...] | None = None
        # The steps that were worked out, each by the number of events it followed.
        self._steps: dict[int, Step] = {}
        # What others recorded while this call was in hand, for a face to show once.
        self.came_in: tuple[ev.AnyEvent, ...] = ()
        if not self._events:
            symptoms, people = tuple(symptoms), usual_people(trees) if people is None else tuple(people)
            # Settings made for another trade name only people that these trees do not know.
            people = people if not people or any(person in trees.people for person in people) else usual_people(trees)
            stated = as_facts(facts or {})
            self._check_facts(stated)
            self._check_known("symptom", symptoms, trees.symptoms)
            self._check_known("walk", [walk] if walk else [], trees.walks)
            self._append(ev.Opened, facts=stated, symptoms=symptoms, site=site, door=door, people=people, walk=walk)

    # --- what follows from it -------------------------------------------------------------------------------------

    def likely(self) -> list[Likely]:
        """Every suspect with its probability and evidence, likeliest first (``calls.likely``)."""
        return likely(self)

    def surprise(self) -> Surprise:
        """Whether the answers sit ill together, and which of them to doubt first."""
        return surprise(self)

    @property
    def nothing_fits(self) -> bool:
        """Whether the answers fit a cause not in the book clearly better than all that is in it."""
        return nothing_fits(self)

    def untested(self) -> str:
        """A warning where a cause is confidently named though few of the answers could have spoken against it."""
        return untested(self)

    def fitting_better(self) -> tuple[Fitting, ...]:
        """Other complaints that would explain the answers, where those that were made do not; the best first."""
        if self._fitting is None:
            self._fitting = fitting_better(self.situation, self.state) if self.nothing_fits else ()
        return self._fitting

    def next_step(self, quick: bool = False) -> Step:
        """The step with the lowest expected cost to a proven door; ``quick`` takes the most telling check instead."""
        if quick:
            return next_step(self, quick)
        number = len(self._events)
        if number not in self._steps:
            self._steps[number] = next_step(self)
        return self._steps[number]

    def twin(self) -> Call:
        """A copy that nothing else touches and that records nothing; the steps it works out this one knows of."""
        twin = Call(self.trees, goal=self.goal, sure=self.sure, by=self.by, history=self._events)
        twin._steps = self._steps
        return twin

    # --- what happened -------------------------------------------------------------------------------------

    def understand(self, check: str, text: str) -> Understood:
        """What ``text`` would answer, without answering. Raises ``AnswerError``."""
        self._check_known("check", [check], self.trees.checks)
        return understand(self.trees.checks[check], text)

    def answer(
        self,
        check: str,
        text: str,
        *,
        mode: Literal["new", "again", "correction"] = "new",
        heard: Literal["seen", "told"] = "seen",
        reason: str = "",
    ) -> Understood:
        """Answer a check with what was typed; a correction of what showed a hazard wants its ``reason``.

        Raises ``AnswerError``, ``WordNeeded``, and ``CallError`` for an unknown check.
        """
        understood = self.understand(check, text)
        event = self._event(
            ev.Answered,
            check=check,
            raw=text,
            value=understood.value,
            unit=understood.unit,
            mode=mode,
            heard=heard,
            reason=reason.strip(),
            put=step.asks(check) if heard == "seen" and (step := self._steps.get(len(self._events))) else None,
        )
        if mode == "correction" and (lost := self._lost(replace_in(event, reason="?"), event)):
            raise WordNeeded(f"A hazard was seen there: {_titles(lost)}. If that look was mistaken, say why.", lost)
        self._record(event)
        return understood

    def withdraw(self, check: str, reason: str = "") -> None:
        """Take an answer back; ``reason`` where it had shown a hazard. Raises ``CallError``, ``WordNeeded``."""
        if check not in self.state.answers:
            raise CallError(f"'{check}' has no answer to withdraw.")
        self._with_reason(ev.Withdrawn, reason, check=check)

    def state_fact(self, fact: str, value: str | tuple[str, ...], *, became: ev.Became = "", reason: str = "") -> None:
        """Say, or correct, something about the door; ``""`` forgets it, and ``()`` says it has none of these.

        What proofs hang on does not vanish in mid call without a word: ``became`` says what became of what was stated
        before, "never there" with its ``reason`` or "taken off". Raises ``CallError``, ``WordNeeded``.
        """
        if value != "":
            self._check_facts({fact: value})
        event = self._event(ev.FactStated, fact=fact, value=value, became=became, reason=reason.strip())
        if became != "taken off" and not (became and event.reason):
            unsaid = replace_in(event, became="")
            if lost := self._lost(replace_in(event, became="never there", reason="?"), unsaid):
                title = self.trees.facts[fact].title
                told = "Was it never there (say why), or was it taken off (then it is refitted and proved)?"
                raise WordNeeded(f"{title}: on what was stated before hangs: {_titles(lost)}. {told}", lost, fact)
        self._record(event)

    def state_place(self, site: str, door: str = "", caller: str | None = None, number: str | None = None) -> None:
        """Say, or correct, where the door is, who called and how to call back; ``None`` leaves the last two."""
        self._append(ev.PlaceStated, site=site, door=door, caller=caller, number=number)

    def state_symptoms(self, symptoms: Iterable[str], reason: str = "") -> None:
        """Say, or correct, what is complained of; ``reason`` where what is not gone is taken away in mid call.

        Raises ``CallError``, ``WordNeeded``.
        """
        named = tuple(symptoms)
        self._check_known("symptom", named, self.trees.symptoms)
        event = self._event(ev.SymptomsStated, symptoms=named, reason=reason.strip())
        if not event.reason and (lost := self._lost(replace_in(event, reason="?"), event, ("complaint",))):
            raise WordNeeded(f"Nobody has said that it is gone: {_titles(lost)}. If it was a mistake, say why.", lost)
        self._record(event)

    def state_people(
        self,
        people: Collection[str],
        coming: Mapping[str, str] | None = None,
        load: Mapping[str, int] | None = None,
    ) -> None:
        """Say who is at the door, and whom the call waits for, with when each of them comes. Raises ``CallError``.

        Without ``coming`` those who were to come and are not here are still waited for. ``load`` is what the dispatch
        sheet puts on their van, each part and how many.
        """
        awaited = {person: when for person, when in self.state.coming.items() if person not in people}
        awaited = awaited if coming is None else dict(coming)
        self._check_known("person", [*people, *awaited], self.trees.people)
        if not all(when.strip() for when in awaited.values()):
            raise CallError("Say when they come: a day, an hour, or who will ring and settle it.")
        self._check_known("part", load or (), self.trees.parts)
        self._append(ev.PeopleStated, people=tuple(people), coming=awaited, load=dict(load or {}))

    def enter(self, energy: str, goal: tuple[str, str] = ("", "")) -> None:
        """Say that the door was brought into an energy state, and for which step (kind and id) it was."""
        self._check_known("energy state", [energy], self.trees.energy)
        self._append(ev.EnergyEntered, energy=energy, goal_kind=goal[0], goal=goal[1])

    def tried(self, remedy: str, worked: bool) -> None:
        """Say that a remedy was done, and whether every complaint is gone or none. Raises ``CallError``."""
        self._check_known("remedy", [remedy], self.trees.remedies)
        self._check_here(self.trees.remedies[remedy], self.trees.remedies[remedy].title)
        self._append(ev.Tried, remedy=remedy, worked=worked)

    def done(self, remedy: str) -> None:
        """Say that a remedy was done; what it did is said by ``judge``. Raises ``CallError``."""
        self._check_known("remedy", [remedy], self.trees.remedies)
        self._check_here(self.trees.remedies[remedy], self.trees.remedies[remedy].title)
        self._append(ev.RepairDone, remedy=remedy)

    def judge(self, outcomes: Mapping[str, ev.Now], when: str = "") -> None:
        """Say what complaints do now, each for itself; ``when`` to look again at what is too early to tell.

        Raises ``CallError`` for a complaint that was not stated, or nothing said.
        """
        self._check_known("complaint of this call", outcomes, self.state.symptoms)
        if not outcomes or not set(outcomes.values()) <= set(get_args(ev.Now)):
            raise CallError(f"Say of each complaint one of: {', '.join(get_args(ev.Now))}.")
        if "too early" in outcomes.values() and not when.strip():
            raise CallError("Say when to look again: an hour, a weather, a number of days or cycles.")
        self._append(ev.Judged, outcomes=dict(outcomes), when=when.strip())

    def proved(self, proof: str, passed: bool) -> None:
        """Say how a proof came out. Raises ``CallError`` where it cannot have passed, and says why."""
        self._check_known("proof", [proof], self.trees.proofs)
        if passed and (refusal := self.ledger.refusal(self.trees.proofs[proof])):
            raise CallError(refusal)
        self._append(ev.Proved, proof=proof, passed=passed)

    def job(self, job: str, came: ev.Came, reason: str = "") -> None:
        """Say how a job of the walk came out. Raises ``CallError`` where it cannot be done, or a reason is missing."""
        self._check_known("job of this walk", [job], self.walk.jobs if self.walk is not None else ())
        entry = self.trees.jobs[job]
        if came == "done":
            self._check_here(entry, entry.title)
            if first := [each for each in self.open_jobs() if each.id in entry.after]:
                raise CallError(f"'{first[0].title}' comes before it. Do that first, or say why it is not needed.")
        elif not reason.strip():
            raise CallError("Say why it is not needed." if came == "not needed" else "Say what is not right.")
        self._append(ev.JobDone, job=job, came=came, reason=reason.strip())

    def put_off(self, kind: str, step: str, missing: Collection[str] = ()) -> None:
        """Leave a step for later: it is not suggested while there is something else to do.

        ``missing`` are the parts of a remedy that are not there. Raises ``CallError``.
        """
        self._check_named(kind, step)
        self._check_known("part of this repair", missing, self.trees.remedies[step].parts if kind == "remedy" else ())
        self._append(ev.PutOff, kind=kind, step=step, missing=tuple(missing))

    def take_up(self, kind: str, step: str) -> None:
        """Choose a step: it is to be done next, and is left for later no more."""
        self._check_named(kind, step)
        self._append(ev.TakenUp, kind=kind, step=step)

    def not_finished(self) -> None:
        """Say that the repair which was to be tried is not finished: it counts as not done.

        What was begun still makes earlier proofs stale, and asks for its own.
        """
        done = [e for e in standing(self._events) if isinstance(e, ev.RepairDone)]
        if not self.state.untried or not done:
            raise CallError("There is no repair that was not tried yet.")
        self._append(ev.Undone, undoes=done[-1].sequence)

    def danger(self, danger: str, answer: str, told: bool = False) -> None:
        """Say whether a sign of danger is there; ``told``, that the caller has heard what to do about it."""
        self._check_known("danger", [danger], self.trees.dangers)
        self._append(ev.DangerStated, danger=danger, answer=answer, told=told)

    def recall(self, readings: Mapping[str, ev.Then], lines: Mapping[str, tuple[ev.Then, ...]] | None = None) -> None:
        """Put what was read of this door before beside what is read now; nothing where nothing was."""
        if readings or lines:
            self._append(ev.Recalled, readings=dict(readings), lines=dict(lines or {}))

    def note(self, text: str) -> None:
        self._append(ev.Noted, text=text)

    def undo(self, reason: str = "") -> bool:
        """Undo the last event that counts, the opening and what it recalled excepted; false where there is none.

        Raises ``WordNeeded`` where something would no longer have to be proved, and ``CallError`` where a door would
        stand returned to service with something missing.
        """
        counting = [event for event in standing(self._events) if not isinstance(event, (ev.Opened, ev.Recalled))]
        if not counting:
            return False
        if isinstance(counting[-1], ev.Reopened) and fold(counting[:-1]).outcome in BACK:
            raise CallError("The call was opened again. Close it again when nothing is missing.")
        self._with_reason(ev.Undone, reason, undoes=counting[-1].sequence)
        return True

    def follow(self, events: Sequence[ev.AnyEvent]) -> None:
        """Go on from these events, some of which others recorded meanwhile: they are in ``came_in``."""
        known = set(map(repr, self._events))
        self.came_in = (*self.came_in, *(event for event in events if repr(event) not in known))
        self._events, self._steps = list(events), {}
        self._state = self._facts = self._ledger = self._inference = self._planner = self._fitting = None

    def close(self, outcome: ev.Outcome, reason: str = "") -> None:
        """End the call; until it is reopened nothing but notes can be added.

        Raises ``CallError`` when the door is to return to service with anything missing, or to be left out of service,
        or the call to end without a visit, without a reason: there is no other way to close.
        """
        if outcome in BACK:
            if outcome != self.ends:
                raise CallError(f"This call ends with the door {self.ends}, or left out of service.")
            if missing := self.missing(reason):
                raise CallError(f"Not yet. {in_words(missing)} Or leave the door out of service, and say why.")
        elif outcome == "ended without a visit":
            if self.state.at_the_door:
                raise CallError("Somebody has been at this door: leave it out of service, or return it to service.")
            if not reason.strip():
                raise CallError("Say why the call ends without a visit.")
        elif not reason.strip():
            raise CallError("Say why the door is left out of service.")
        self._append(ev.Closed, outcome=outcome, reason=reason)

    def reopen(self, reason: str = "") -> None:
        self._append(ev.Reopened, reason=reason)

    # --- inside --------------------------------------------------------------------------------------------

    def _event(self, kind: type[ev.Event], /, **fields: Any) -> Any:
        return kind(
            sequence=self._events[-1].sequence + 1 if self._events else 1,
            at=self._clock().isoformat(timespec="seconds"),
            by=self.by,
            digest=self.trees.digest[:16],
            **fields,
        )

    def _append(self, kind: type[ev.Event], /, **fields: Any) -> None:
        self._record(self._event(kind, **fields))

    def _record(self, event: Any) -> None:
        kind = type(event)
        if self._events and self.state.outcome is not None and kind not in (ev.Reopened, ev.Noted, ev.Undone):
            raise CallError(f"The call is closed: {self.state.outcome}. Reopen it to go on.")
        if self._recorder is not None:
            self._recorder(event)
        # From here on it goes its own way: a twin may have heard something else.
        self._steps = {number: step for number, step in self._steps.items() if number <= len(self._events)}
        self._events.append(event)
        self._inference = self._planner = self._fitting = None
        if isinstance(event, ev.Undone):
            self._ledger = None
        if isinstance(event, (ev.Undone, ev.FactStated)):
            # Which facts go together is settled anew.
            self._state = self._facts = None
        # What was folded goes on from where it was: the same as all events from the first.
        if self._state is not None:
            self._state = folded(self._state, event)
        if self._ledger is not None:
            self._ledger.take(event)

    def _with_reason(self, kind: type[ev.Event], reason: str, /, **fields: Any) -> None:
        """Append an event that takes something back, if nothing hangs on it or the reason is given."""
        event = self._event(kind, **fields, reason=reason.strip())
        if not event.reason and (lost := self._lost(replace_in(event, reason="?"))):
            raise WordNeeded(f"With that, this need no longer be proved: {_titles(lost)}. Say why it is right.", lost)
        self._record(event)

    def _lost(
        self,
        event: ev.AnyEvent,
        instead: ev.AnyEvent | None = None,
        kinds: Collection[str] = ("proof", "failed proof"),
    ) -> tuple[Missing, ...]:
        """What of these kinds is missing now, or after ``instead``, and would not be after ``event``.

        What is said before anybody has touched the door is put right freely.
        """
        if not self.ledger.touched:
            return ()
        before = self.missing() if instead is None else ledger(self.trees, [*self._events, instead]).missing()
        left = {(each.kind, each.id) for each in ledger(self.trees, [*self._events, event]).missing()}
        return tuple(each for each in before if each.kind in kinds and (each.kind, each.id) not in left)

    def _check_here(self, entry: Task, title: str) -> None:
        if entry.who not in can_do(self.trees, self.state.people):
            who = self.trees.people[entry.who].title
            raise CallError(f"'{title}' is for a {who}, and none is here. Say who is here, or leave it to one who is.")

    def _check_known(self, kind: str, names: Iterable[str], known: Collection[str]) -> None:
        for name in names:
            if name not in known:
                raise CallError(f"'{name}' is no {kind} of these trees. {did_you_mean(name, known)}")

    def _check_named(self, kind: str, step: str) -> None:
        known: dict[str, Collection[str]] = {name: getattr(self.trees, section) for name, section in STEPS.items()}
        known["stop"] = (HAND_OVER,)
        if kind not in known:
            raise CallError(f"'{kind}' is no kind of step. {did_you_mean(kind, known)}")
        self._check_known(kind, [step], known[kind])

    def _check_facts(self, facts: Mapping[str, str | tuple[str, ...]]) -> None:
        for fact, value in facts.items():
            self._check_known("fact", [fact], self.trees.facts)
            allowed = self.trees.facts[fact].answers
            for one in (value,) if isinstance(value, str) else value:
                if one not in allowed:
                    raise CallError(f"'{one}' is no answer to '{fact}'. {did_you_mean(one, allowed)}")
        for fact, wrong, mend in misfits(self.trees.facts, {**self.state.facts, **facts}):
            if fact in facts:
                raise CallError(f"{wrong} {mend}")


def _titles(missing: Collection[Missing]) -> str:
    return "; ".join(each.title for each in missing)


__all__ = ["COULD_NOT_TELL", "AnswerError", "Call", "CallError", "Evidence", "Likely", "Missing", "Step", "WordNeeded"]
