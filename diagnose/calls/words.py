"""One vocabulary for what stands in a call: titles, answers, cautions, events, shares and minutes, in plain words.

Every face and every document says them through here, so that nothing is put in two ways.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Literal, NamedTuple

from diagnose.calls import events as ev
from diagnose.calls.answering import series_parts
from diagnose.calls.state import Answer, standing
from diagnose.knowledge.model import Caution, Check, Facts, Remedy, Task, Trees
from diagnose.knowledge.words import minutes as minutes
from diagnose.knowledge.words import percent as percent
from diagnose.quantities import QuantityError, as_typed, show, to_si
from diagnose.quantities.show import Shown
from diagnose.reasoning.explain import UNLISTED_TITLE as UNLISTED_TITLE
from diagnose.reasoning.explain import absent
from diagnose.reasoning.explain import cause_title as cause_title

if TYPE_CHECKING:
    from diagnose.calls.call import Call

# The signal words of ANSI Z535.4, the gravest first.
SIGNAL_WORDS = ("DANGER", "WARNING", "CAUTION", "NOTICE")


NOT_KNOWN = "not known"


class Told(NamedTuple):
    """A line: a ``heading``, ``text``, an ``item`` of a list (its later lines are set in), or a row of a picture."""

    kind: Literal["heading", "text", "item", "drawn"]
    text: str


def title(trees: Trees, kind: str, identity: str) -> str:
    """An entry's title, or its id where these trees do not know it."""
    return str(getattr(getattr(trees, kind).get(identity), "title", identity))


def fact_in_words(trees: Trees, fact: str, value: str | tuple[str, ...] | None) -> str:
    """What is known of a fact of the door, as a person reads it."""
    if value is None or value == "":
        return NOT_KNOWN
    known, values = trees.facts.get(fact), (value,) if isinstance(value, str) else value
    return ", ".join(known.called(each) if known is not None else each for each in values) or "none of those asked"


def facts_in_words(trees: Trees, facts: Facts) -> list[tuple[str, str]]:
    """What is known of a door, group by group: which fact, and its answer."""
    ordered = [fact for named in in_groups(trees, facts).values() for fact in named]
    return [(title(trees, "facts", fact), fact_in_words(trees, fact, facts[fact])) for fact in ordered]


def in_groups(trees: Trees, facts: Iterable[str]) -> dict[str, list[str]]:
    """Facts below the headings they stand under; the groups of what is asked first come first."""
    order = sorted(trees.facts.values(), key=lambda fact: fact.first != "yes")
    groups: dict[str, list[str]] = {group: [] for group in dict.fromkeys(fact.group for fact in order)}
    for fact in facts:
        groups.setdefault(trees.facts[fact].group if fact in trees.facts else "", []).append(fact)
    return {group: named for group, named in groups.items() if named}


def step_title(trees: Trees, kind: str, identity: str) -> str:
    """What a step is, in the words of its entry; its id where these trees do not know it."""
    if kind == "check":
        return trees.checks[identity].text if identity in trees.checks else identity
    kinds = {"remedy": "remedies", "proof": "proofs", "job": "jobs", "energy": "energy"}
    return title(trees, kinds[kind], identity) if kind in kinds else identity


def parts_of(trees: Trees, remedy: Remedy) -> str:
    """``2 × sealed connector, 1 × fuse``."""
    return ", ".join(f"{count} × {title(trees, 'parts', part)}" for part, count in remedy.parts.items())


def absent_from(call: Call, kind: str, identity: str) -> str:
    """Who would have to come for a step (``needs an electrician, who is not here``); ``""`` where nobody would."""
    entry = call.trees.task(kind, identity)
    return absent(call.trees, entry, call.state.people) if entry is not None else ""


def numbered_parts(remedy: Remedy) -> dict[str, str]:
    """The kinds of part that a repair takes, by the numbers that people say for them."""
    return {str(number): part for number, part in enumerate(remedy.parts, start=1)}


def parts_by_number(trees: Trees, remedy: Remedy) -> str:
    """``1 spring, 2 cable``."""
    return ", ".join(f"{number} {title(trees, 'parts', part)}" for number, part in numbered_parts(remedy).items())


def missing_for(call: Call, kind: str, identity: str) -> str:
    """The parts that were not there when a repair was put off (``not there: fuse``); ``""`` where none was named."""
    missing = call.state.missing.get(identity, ()) if kind == "remedy" else ()
    return f"not there: {_listed(title(call.trees, 'parts', part) for part in missing)}" if missing else ""


def with_absent(call: Call, identity: str, kind: str = "remedy") -> str:
    """A step in the words of its entry, and who or what it wants: ``New board (needs an electrician, …)``."""
    needs = "; ".join(filter(None, (absent_from(call, kind, identity), missing_for(call, kind, identity))))
    return step_title(call.trees, kind, identity) + (f" ({needs})" if needs else "")


def cautions_of(trees: Trees, entry: Task) -> tuple[Caution, ...]:
    """What is read before a step, the gravest first: its own cautions, its place's, and those of open live parts."""
    place, state = trees.access.get(entry.access), trees.energy.get(entry.energy)
    live = state is not None and state.powered == "yes" and state.cover == "open"
    return cautions_named(
        trees,
        (*entry.cautions, *(place.cautions if place else ()), *(state.cautions if state is not None and live else ())),
    )


def cautions_named(trees: Trees, names: Iterable[str]) -> tuple[Caution, ...]:
    """The cautions of these ids that the trees know, each once, the gravest first."""
    known = [trees.cautions[name] for name in dict.fromkeys(names) if name in trees.cautions]
    return tuple(sorted(known, key=lambda caution: SIGNAL_WORDS.index(caution.word)))


def in_words(
    check: Check | None, value: str | tuple[float, ...], unit: str, system: Shown = "both", step: float = 0.0
) -> str:
    """An answer as it is understood: the choice, or its SI numbers in the check's unit and the other system's.

    ``step`` is the smallest difference worth showing, by default that of the check's instrument.
    """
    if isinstance(value, str):
        return value
    if not step and check is not None and check.instrument is not None:
        step = check.instrument.step
    wanted = check.unit if check is not None else unit
    try:
        return "; ".join(show(number, wanted, system, step) for number in value)
    except QuantityError:
        return "; ".join(f"{number:g} {unit}".strip() for number in value)


def computed_in_words(check: Check, value: float, error: float = 0.0, system: Shown = "both") -> str:
    """A number that was worked out, in the check's unit, to the figures its standard ``error`` leaves, or to four."""
    step = check.instrument.step if check.instrument is not None else 0.0
    if not step and value:
        step = 10.0 ** math.floor(math.log10(error or abs(value) / 1000))
    return in_words(check, (to_si(value, check.unit),), "", system, step)


def typed_in_words(check: Check, raw: Sequence[str], system: Shown = "both", joint: str = " (") -> str:
    """Readings of a check as they were typed, each with its unit and what that is in the other; ``""`` where these
    trees cannot read them so."""
    parts = [part for text in raw for part in (series_parts(text) if check.series == "yes" else [text])]
    try:
        return "; ".join(as_typed(part, check.unit, system, joint) for part in parts)
    except QuantityError:
        return ""


def answer_in_words(check: Check | None, answer: Answer, system: Shown = "both") -> str:
    """What is held to be a check's answer, as ``in_words`` has it, marked where it was only told."""
    if check is None and not isinstance(answer.value, str):
        text = "; ".join(answer.raw)
    else:
        text = "" if check is None or isinstance(answer.value, str) else typed_in_words(check, answer.raw, system)
        text = text or in_words(check, answer.value, answer.unit, system)
    return f"{text} (told)" if answer.heard == "told" else text


def remarks_on(events: Iterable[ev.AnyEvent]) -> dict[int, str]:
    """For each event that no longer counts, by its sequence, what became of it: ``undone``, ``withdrawn`` …"""
    events = tuple(events)
    counting = standing(events)
    kept = {event.sequence for event in counting}
    remarks = {e.sequence: "undone" for e in events if e.sequence not in kept and not isinstance(e, ev.Undone)}
    latest: dict[str, ev.Answered] = {}
    for event in reversed(counting):
        if isinstance(event, ev.Withdrawn):
            remarks |= {
                e.sequence: "withdrawn"
                for e in counting
                if isinstance(e, ev.Answered) and e.check == event.check and e.sequence < event.sequence
            }
        elif isinstance(event, ev.Answered):
            later = latest.pop(event.check, None)
            if later is not None:
                remarks.setdefault(event.sequence, f"replaced by {later.sequence}")
            if event.mode != "again":
                latest[event.check] = event
        elif isinstance(event, (ev.Tried, ev.RepairDone)):
            # Seen anew after a repair: both stand.
            latest = {check: later for check, later in latest.items() if later.mode == "correction"}
    return remarks


def event_in_words(trees: Trees, event: ev.AnyEvent) -> str:
    match event:
        case ev.Opened() if event.walk:
            return f"Walk begun: {title(trees, 'walks', event.walk)}"
        case ev.Opened():
            return f"Call opened: {_listed(title(trees, 'symptoms', s) for s in event.symptoms) or 'no complaint yet'}"
        case ev.FactStated():
            said = fact_in_words(trees, event.fact, event.value)
            became = f" (what was said before: {event.became})" if event.became else ""
            return f"{title(trees, 'facts', event.fact)}: {said}{became}{_because(event.reason)}"
        case ev.PlaceStated():
            where = ", ".join(filter(None, (event.site, event.door))) or "not said"
            caller = ", ".join(filter(None, (event.caller, event.number)))
            return f"Where: {where}{f'; called by {caller}' if caller else ''}"
        case ev.SymptomsStated():
            named = _listed(title(trees, "symptoms", s) for s in event.symptoms) or "none"
            return f"Complaint: {named}{_because(event.reason)}"
        case ev.PeopleStated():
            coming = _listed(f"{title(trees, 'people', p)}, {when}" for p, when in event.coming.items())
            here = _listed(title(trees, "people", p) for p in event.people)
            load = _listed(f"{count} × {title(trees, 'parts', part)}" for part, count in event.load.items())
            still = f"; still to come: {coming}" if coming else ""
            return f"At the door: {here}{still}{f'; on the van: {load}' if load else ''}"
        case ev.Answered():
            check = trees.checks.get(event.check)
            reading = check is not None and not isinstance(event.value, str)
            meaning = typed_in_words(check, [event.raw]) if check is not None and reading else ""
            meaning = meaning or in_words(check, event.value, event.unit)
            how = {"new": "", "again": " (read again)", "correction": " (corrected)"}[event.mode]
            told = ", as told" if event.heard == "told" else ""
            taken = "" if meaning == event.raw.strip() else f", taken as {meaning}"
            return f"{check.text if check else event.check} “{event.raw}”{taken}{told}{how}{_because(event.reason)}"
        case ev.Withdrawn():
            check = trees.checks.get(event.check)
            return f"Answer withdrawn: {check.text if check else event.check}{_because(event.reason)}"
        case ev.EnergyEntered():
            return f"Door brought into the state: {title(trees, 'energy', event.energy)}"
        case ev.Tried():
            result = "the complaint went away" if event.worked else "the complaint stayed"
            return f"Repair done: {title(trees, 'remedies', event.remedy)}: {result}"
        case ev.RepairDone():
            return f"Repair done: {title(trees, 'remedies', event.remedy)}"
        case ev.Judged():
            now = _listed(f"{title(trees, 'symptoms', each)}: {told}" for each, told in event.outcomes.items())
            return f"After it: {now}{f'; look again: {event.when}' if event.when else ''}"
        case ev.Proved():
            return f"Proof {'passed' if event.passed else 'did not pass'}: {title(trees, 'proofs', event.proof)}"
        case ev.JobDone():
            return f"Job {event.came}: {title(trees, 'jobs', event.job)}{_because(event.reason)}"
        case ev.PutOff():
            missing = _listed(title(trees, "parts", part) for part in event.missing)
            step = step_title(trees, event.kind, event.step)
            return f"Put off: {step}{f'; not there: {missing}' if missing else ''}"
        case ev.TakenUp():
            return f"Taken up again: {step_title(trees, event.kind, event.step)}"
        case ev.DangerStated():
            told = "; the caller was told what to do" if event.told else ""
            return f"Sign of danger: {title(trees, 'dangers', event.danger)}: {event.answer}{told}"
        case ev.Recalled():
            read = _listed(
                f"{trees.checks[check].text if check in trees.checks else check} "
                f"{in_words(trees.checks.get(check), then.values, then.unit)}"
                for check, then in event.readings.items()
            )
            return f"Read before, when the door was right: {read}"
        case ev.Noted():
            return f"Note: {event.text}"
        case ev.Undone():
            return f"Entry {event.undoes} undone{_because(event.reason)}"
        case ev.Closed():
            return f"Call closed, {event.outcome}{f': {event.reason}' if event.reason else ''}"
        case ev.Reopened():
            return f"Call opened again{f': {event.reason}' if event.reason else ''}"


def _because(reason: str) -> str:
    return f"; because: {reason}" if reason else ""


def _listed(texts: Iterable[str]) -> str:
    return "; ".join(texts)
