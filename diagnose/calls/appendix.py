"""The technical appendix of a record: readings beside what is usual, the evidence, proofs, the history."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import timezone

from diagnose import __version__
from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.change_words import change_in_words, then_in_words
from diagnose.calls.document import Block, Cell, Heading, Items, Line, Picture, Plot, Table, plot_of, soft, table
from diagnose.calls.inference import from_si
from diagnose.calls.sketches import sketched, sketches_for
from diagnose.calls.state import Answer, Proof
from diagnose.calls.then_and_now import change_of
from diagnose.calls.trend_words import drawn, trend_in_words, trend_svg
from diagnose.calls.trends import trends_at
from diagnose.calls.verdict import Mended, mended
from diagnose.calls.words import (
    cautions_named,
    cautions_of,
    computed_in_words,
    event_in_words,
    facts_in_words,
    in_words,
    remarks_on,
    title,
)
from diagnose.knowledge import model
from diagnose.knowledge.distributions import Shares, extent, mostly
from diagnose.knowledge.model import Caution, Check, Task, applies
from diagnose.knowledge.words import local_time
from diagnose.reasoning.chain import place_of

# A sound door reads within two standard deviations of the middle in about 95 of 100 cases.
_USUAL = 2.0
# So many proofs stand on the first page; where that is all there were, they need not stand here again.
FIRST_PROOFS = 14


class OfCall:
    """What a part of a record is drawn up from; times are in ``zone``."""

    def __init__(self, call: Call, zone: timezone) -> None:
        self.call, self.zone = call, zone
        self.trees, self.state = call.trees, call.state
        self.by = {event.sequence: event.by for event in call.events}

    def _who(self, at: str, by: str, heard: str = "") -> str:
        return ", ".join(filter(None, (self._time(at), by, "as told" if heard == "told" else "")))

    def _time(self, at: str) -> str:
        return local_time(at, self.zone)


class Appendix(OfCall):
    """Each method draws up one section, or nothing where there is nothing to say."""

    def blocks(self) -> Iterator[Block]:
        yield Heading("Technical appendix", 1)
        for section in (
            self._door,
            self._dangers,
            self._readings,
            self._answers,
            self._worked_out,
            self._then_and_now,
            self._changes,
            self._evidence,
            self._where,
            self._jobs,
            self._proofs,
            self._cautions,
            self._notes,
            self._history,
            self._end,
        ):
            yield from section()

    # --- sections ------------------------------------------------------------------------------------------------

    def _door(self) -> Iterator[Block]:
        state = self.state
        pairs = [f"{fact}: {said}" for fact, said in facts_in_words(self.trees, state.facts)]
        named = [person for person in state.people if person != "anyone"]
        people = ", ".join(title(self.trees, "people", person) for person in named or state.people)
        yield Heading("The door")
        if pairs:
            yield Line(soft("; ".join(pairs) + "."))
        yield Line(soft(f"At the door: {people}."))

    def _dangers(self) -> Iterator[Block]:
        known, said = self.trees.dangers, self.state.dangers
        rows = [(known[each].ask if each in known else each, answer) for each, answer in said.items()]
        yield from table("Signs of danger asked about", ("Sign", "Answer"), (5, 0), rows)

    def _readings(self) -> Iterator[Block]:
        rows: list[tuple[Cell, ...]] = []
        for answer in self._given():
            check = self.trees.checks.get(answer.check)
            if isinstance(answer.value, str):
                continue
            plot = plot_of_reading(check, answer) if check is not None else None
            raw = " · ".join(f"“{each}”" for each in answer.raw)
            taken = in_words(check, answer.value, answer.unit)
            usual = usual_in_words(check, plot) if check is not None and plot is not None else ""
            who = self._who(answer.at, answer.by, answer.heard)
            text = check.text if check else answer.check
            rows.append((text, f"{raw}: {taken}", usual, plot or "", who))
        head = ("Reading", "As given: taken as", "Usual on a sound door", "", "When and who")
        yield from table("Readings", head, (5, 4, 3, 0, 3), rows)
        if rows:
            yield Line("Grey: usual on a sound door, as the program estimates it. Black: what was read.", "small")

    def _answers(self) -> Iterator[Block]:
        rows = []
        for answer in self._given():
            if isinstance(answer.value, str):
                check = self.trees.checks.get(answer.check)
                given = " · ".join(f"“{each}”" for each in answer.raw if each.strip() != answer.value)
                said = f"{answer.value}{f' ({given})' if given else ''}"
                who = self._who(answer.at, answer.by, answer.heard)
                rows.append((check.text if check else answer.check, said, who))
        yield from table("Looked at and asked", ("Question", "Answer", "When and who"), (5, 3, 3), rows)

    def _worked_out(self) -> Iterator[Block]:
        rows = []
        for name, worked in self.call.inference.workings.items():
            check, value = self.trees.checks[name], worked.value
            said = value if isinstance(value, str) else computed_in_words(check, value, worked.error)
            if worked.error:
                said += f" ± {worked.error:.2g} {check.unit}".rstrip()
            rows.append((check.text, said, worked.working))
        yield from table("Worked out from the readings", ("What", "Value", "Working"), (3, 2, 4), rows)

    def _then_and_now(self) -> Iterator[Block]:
        rows = []
        for name, then in self.state.then.items():
            check, answer = self.trees.checks.get(name), self.state.answers.get(name)
            change = change_of(self.trees, self.state.then, answer)
            if check is not None and change is not None:
                rows.append((check.text, then_in_words(check, then, "both"), change_in_words(check, change, "both")))
        yield from table("Then and now", ("Reading", "When the door was right", "Change"), (3, 2, 3), rows)

    def _changes(self) -> Iterator[Block]:
        """What wears or fades at this door, in words and as a picture each."""
        for number, trend in enumerate(trends_at(self.call)):
            if number == 0:
                yield Heading("What changes at this door")
            yield Line(soft(trend_in_words(trend, "both")))
            yield Picture(trend_svg(trend), "\n".join(drawn(trend)), soft(trend.check.text))

    def _evidence(self) -> Iterator[Block]:
        for each in mended(self.call):
            if each.cause is not None:
                yield from self._evidence_of(each)

    def _evidence_of(self, found: Mended) -> Iterator[Block]:
        assert found.cause is not None
        cause = found.cause
        yield Heading(soft(f"Why it was this: {cause.title}"))
        yield Line(soft(f"Confirmed by: {title(self.trees, 'remedies', found.done.remedy)}. The complaint was gone."))
        if cause.telling:
            rows = tuple((soft(r.check), soft(r.found), r.speaks) for r in cause.telling)
            yield Table(("Check or repair", "Found", "Which"), rows, (5, 3, 0))
        place = place_of(self.trees, self.call.facts, self.state.symptoms, cause.cause)
        if place:
            yield Line(soft(f"Where it lies in the chain of functions: {place}"))

    def _jobs(self) -> Iterator[Block]:
        """The jobs of a walk by stage: how each came out, when, and by whom."""
        walk = self.call.walk
        for stage in walk.stages.values() if walk is not None else ():
            rows = []
            for job in (self.trees.jobs[name] for name in stage.jobs if name in self.trees.jobs):
                came = self.state.jobs.get(job.id)
                if came is None and not applies(job.applies, self.call.facts):
                    continue
                said = f"{came.came}{f': {came.reason}' if came.reason else ''}" if came else "open"
                who = self._who(came.at, came.by) if came else ""
                rows.append((job.title, job.passes_when, said, who))
            head = ("Job", "Passes when", "Came", "When and who")
            yield from table(f"Jobs: {stage.title}", head, (4, 5, 2, 2), rows)

    def _where(self) -> Iterator[Block]:
        """On a sketch of such a door, where the repairs were done."""
        remedies = [self.trees.remedies[each.remedy] for each in self.state.tries if each.remedy in self.trees.remedies]
        if drawn := sketches_for(self.trees, remedies, self.call.facts):
            yield Heading("Where the repairs were")
            yield from sketched(self.trees, drawn)

    def _proofs(self) -> Iterator[Block]:
        needed = {proof.id for proof in self.call.needed_proofs()}
        rows = []
        for item in (each for each in self.state.evidence if isinstance(each, Proof)):
            proof = self.trees.proofs.get(item.proof)
            when = proof.passes_when if proof is not None else ""
            read = figures(self.call, proof) if proof is not None else ""
            result = "passed" if item.passed else "DID NOT PASS"
            said = f"{when}{f' Read: {read}.' if read else ''}{'' if item.proof in needed else ' (not needed here)'}"
            who = self._who(item.at, self.by.get(item.sequence, ""))
            rows.append((title(self.trees, "proofs", item.proof), said, result, who))
        if len(rows) > len(self.state.proofs) or len(rows) > FIRST_PROOFS:
            head = ("Proof", "Passes when, and what was read", "Result", "When and who")
            yield from table("Every proof run", head, (4, 5, 0, 2), rows)

    def _cautions(self) -> Iterator[Block]:
        met = self._cautions_met()
        if met:
            yield Heading("Cautions that applied")
            yield Items(tuple(soft(f"{caution.word}: {caution.text}") for caution in met))

    def _cautions_met(self) -> tuple[Caution, ...]:
        """Of every step done, where it was done from, and every state the door was brought into."""
        trees, names = self.trees, dict[str, None]()
        kinds: tuple[tuple[type[ev.Event], str, dict[str, Task]], ...] = (
            (ev.Answered, "check", dict(trees.checks)),
            (ev.Tried, "remedy", dict(trees.remedies)),
            (ev.RepairDone, "remedy", dict(trees.remedies)),
            (ev.Proved, "proof", dict(trees.proofs)),
        )
        for event in self.call.events:
            if isinstance(event, ev.EnergyEntered) and event.energy in trees.energy:
                names |= dict.fromkeys(trees.energy[event.energy].cautions)
            for kind, field, entries in kinds:
                if isinstance(event, kind) and getattr(event, field) in entries:
                    names |= dict.fromkeys(c.id for c in cautions_of(trees, entries[getattr(event, field)]))
        return cautions_named(trees, sorted(names))

    def _notes(self) -> Iterator[Block]:
        if self.state.notes:
            yield Heading("Notes")
            yield Items(tuple(soft(f"{self._time(at)}: {text}") for at, text in self.state.notes))

    def _history(self) -> Iterator[Block]:
        remarks, rows = remarks_on(self.call.events), []
        for event in self.call.events:
            what = event_in_words(self.trees, event)
            remark = remarks.get(event.sequence, "")
            when = self._time(event.at)
            rows.append((str(event.sequence), when, what, event.by, remark))
        yield from table("History", ("", "When", "What", "Who", ""), (0, 0, 6, 1, 1), rows)

    def _end(self) -> Iterator[Block]:
        digests = list(dict.fromkeys(event.digest for event in self.call.events if event.digest))
        said = [f"Times are {self.zone}. Made by diagnose {__version__}."]
        said.append(f"Answered against the trees {', '.join(digests) or 'not named'}.")
        if digests and self.trees.digest[:16] not in digests:
            said.append(f"Judged here by other trees, {self.trees.digest[:16]}.")
        yield Line(" ".join(said), "small")

    # --- words ---------------------------------------------------------------------------------------------------

    def _given(self) -> list[Answer]:
        return [item for item in self.state.evidence if isinstance(item, Answer)]


def plot_of_reading(check: Check, answer: Answer) -> Plot | None:
    """A reading against what is usual on a sound door, in the check's unit; ``None`` where nothing is usual."""
    if check.healthy is None or isinstance(check.healthy, Shares) or isinstance(answer.value, str):
        return None
    low, high = extent(mostly(check.healthy), _USUAL)
    if check.plausible is not None:
        low, high = max(low, check.plausible[0]), min(high, check.plausible[1])
    values = [from_si(each, check.unit) for each in answer.value]
    if not all(map(math.isfinite, (low, high, *values))) or low > high:
        return None
    return plot_of(low, high, values)


def usual_in_words(check: Check, plot: Plot) -> str:
    """``22.0 to 28.0 V``."""
    low, high = (computed_in_words(check, value, (plot.high - plot.low) / 40, "us") for value in (plot.low, plot.high))
    return f"{low.removesuffix(check.unit).rstrip()} to {high}"


def figures(call: Call, proof: model.Proof) -> str:
    """What was read since the last repair of what a proof is about: ``Current while opening: 5.1 A``."""
    since = call.state.tries[-1].sequence if call.state.tries else 0
    found = []
    for name in proof.seen:
        answer = call.state.answers.get(name)
        if answer is not None and not isinstance(answer.value, str) and answer.sequence > since:
            check = call.trees.checks[name]
            found.append(f"{check.text}: {in_words(check, answer.value, answer.unit)}")
    return "; ".join(found)
