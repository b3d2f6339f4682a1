"""A step made ready to be shown: what stands on the card, in which order, and what can be said to it.

Pure: from a call and its step to a ``Card``. Every face shows it as it is, and gives a choice of it to ``say``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from diagnose.calls import words
from diagnose.calls.call import Call
from diagnose.calls.change_words import then_in_words
from diagnose.calls.complaints import in_words
from diagnose.calls.next_step import PROOF_FAILED, RETURN, Step
from diagnose.calls.owner_list import NOTHING_TO_PLAN, owner_list
from diagnose.calls.state import Named
from diagnose.calls.trend_words import PLAN, due_at
from diagnose.knowledge.model import (
    ANY,
    COULD_NOT_TELL,
    Caution,
    Check,
    Job,
    Proof,
    Remedy,
    Task,
    applies,
    isolation,
)
from diagnose.knowledge.words import minutes, percent
from diagnose.reasoning.walk import inputs_of
from diagnose.sitting.cautions import cautions_read
from diagnose.sitting.choices import KEYS, NOT_THERE, Choice
from diagnose.sitting.course import COME, Planned, last_repair, whom_to_call

# A remedy's chance that differs by more than this from that of its cause is explained.
_DIFFERS = 0.03
LEAVE_REASON = "Why is the door left out of service?"
_KINDS: dict[type[Task], str] = {Check: "check", Remedy: "remedy", Proof: "proof", Job: "job"}
Lines = Sequence[tuple[str, str]]
LOOK_AGAIN_WHEN = "When can it be told? An hour, after rain, in 3 days, after 50 cycles:"


@dataclass(frozen=True)
class Card:
    """What is to be done, in the order hands need it: title, cautions, how, lines, and what can be said.

    ``kind`` and ``id`` as a step has them, and the ``goal`` it leads to by kind and id. ``read`` are the ids of those
    ``cautions`` that were read in this call before. A card with a ``reading`` takes a typed answer in place of choices.
    ``complaint`` is what is judged, on a card that asks how the door does after a repair. ``why`` is told when asked
    for; of a stop it is what the card says.
    """

    kind: str
    id: str
    heading: str
    title: str
    why: str = ""
    how: str = ""
    cautions: tuple[Caution, ...] = ()
    read: frozenset[str] = frozenset()
    facts: tuple[str, ...] = ()
    # Labelled lines, such as the parts of a repair or when a proof passes.
    lines: tuple[tuple[str, str], ...] = ()
    choices: tuple[Choice, ...] = ()
    reading: Check | None = None
    goal: Named = ("", "")
    complaint: str = ""


def card_of(call: Call, planned: Planned) -> Card:
    step, trees = planned.step, call.trees
    changed = (("Changed", planned.changed),) if planned.changed else ()
    if step.kind == "energy":
        card = _energy_card(call, planned)
    elif planned.complaint:
        card = _trial_card(call, planned)
    elif step.kind == "remedy":
        card = remedy_card(call, trees.remedies[step.id], step.why)
    elif step.kind == "proof":
        card = proof_card(call, trees.proofs[step.id], step.why)
    elif step.kind == "job":
        card = job_card(call, trees.jobs[step.id], step.why)
    elif step.kind == "check":
        card = check_card(call, trees.checks[step.id], step.why)
    else:
        card = _stop_card(call, step)
    return replace(card, lines=(*changed, *card.lines), goal=planned.goal, read=cautions_read(call))


def check_card(call: Call, check: Check, why: str = "") -> Card:
    heading, reading = ("Look or ask", None) if check.answers else ("Measure", check)
    card = _task_card(call, check, heading, why, _then(call, check), answer_choices(check))
    return replace(card, read=cautions_read(call), reading=reading, goal=("check", check.id))


def _task_card(
    call: Call, task: Check | Remedy | Proof | Job, heading: str, why: str, lines: Lines, choices: tuple[Choice, ...]
) -> Card:
    """What the card of every piece of work has."""
    return Card(
        _KINDS[type(task)],
        task.id,
        heading,
        task.text if isinstance(task, Check) else task.title,
        why,
        task.how,
        words.cautions_of(call.trees, task),
        facts=facts_of(call, task),
        lines=tuple(lines),
        choices=choices,
    )


def _then(call: Call, check: Check) -> tuple[tuple[str, str], ...]:
    """What the check read when this door was right."""
    then = call.state.then.get(check.id)
    return () if then is None else (("Then", then_in_words(check, then)),)


def answer_choices(check: Check) -> tuple[Choice, ...]:
    """A question's answers by number, and 0 for "could not tell"."""
    if not check.answers:
        return ()
    named = [Choice(key, answer, answer) for key, answer in zip(KEYS, check.answers, strict=False)]
    return (*named, Choice("0", COULD_NOT_TELL, COULD_NOT_TELL))


def numbered(*choices: tuple[str, ...]) -> tuple[Choice, ...]:
    """Choices by number, each of its label, name, what it asks and what it opens."""
    return tuple(Choice(key, *each) for key, each in zip(KEYS, choices, strict=False))


_INSTEAD = ("Not now: another way", "another", "", "instead")
_BACK = {"returned to service": "Return the door to service", "handed over": "Hand the door over to its owner"}
_LEAVE = ("Leave it out of service", "leave", LEAVE_REASON)
_UNFINISHED = ("The repair is not finished", "unfinished")


def _trial_card(call: Call, planned: Planned) -> Card:
    """After a repair: what does this complaint do now?"""
    state, energy = call.state, call.trees.energy.get(call.energy)
    complaints = list(state.symptoms)
    about = words.title(call.trees, "symptoms", planned.complaint)
    number = complaints.index(planned.complaint) + 1 if planned.complaint in complaints else 1
    of = f", {number} of {len(complaints)}" if len(complaints) > 1 else ""
    lines = [("Repaired", words.title(call.trees, "remedies", last_repair(call)))]
    waiting = planned.complaint in state.waiting_for
    if waiting:
        lines.append(("Look again", state.look_again or "later"))
    still = "Still too early to tell" if waiting else "Too early to tell"
    choices = [
        ("Gone, it works now", "gone"),
        ("Better, not gone", "better"),
        ("Still there", "still there"),
        (still, "too early", LOOK_AGAIN_WHEN),
        ("Not now: go back to the start", "wait", "", "start") if waiting else _UNFINISHED,
    ]
    return Card(
        "remedy",
        planned.step.id,
        f"Try the door{of}",
        f"“{about}”: is it gone?",
        "It was too early to tell." if waiting else "",
        cautions=words.cautions_named(call.trees, energy.cautions) if energy else (),
        lines=tuple(lines),
        choices=numbered(*choices),
        complaint=planned.complaint,
    )


def remedy_card(call: Call, remedy: Remedy, why: str) -> Card:
    lines = [("Parts", words.parts_of(call.trees, remedy))] if remedy.parts else []
    lines += [("Size", size) for size in sizes_of(call, remedy)]
    lines += [("Done before", before)] if (before := done_before(call, remedy.id)) else []
    choices = [("Done: try the door next", "done"), _INSTEAD]
    choices += [("A part is not there", NOT_THERE, _which_part(call, remedy))] if remedy.parts else []
    return _task_card(call, remedy, "Repair", why, lines, numbered(*choices))


def _which_part(call: Call, remedy: Remedy) -> str:
    """Asks which of a repair's parts are not there; ``""`` where it takes but one kind."""
    asked = f"Which? By number, with commas between: {words.parts_by_number(call.trees, remedy)}"
    return asked if len(remedy.parts) > 1 else ""


def sizes_of(call: Call, remedy: Remedy) -> tuple[str, ...]:
    """What size is to be fitted, worked out from what was measured; what to measure for it where that is wanting."""
    checks, workings = call.trees.checks, call.inference.workings
    said = []
    for name in remedy.sizes:
        if not applies(checks[name].applies, call.situation.facts):
            continue
        if name in workings:
            said.append(workings[name].working)
            continue
        measured = [each for each in inputs_of(call.trees, checks[name]) if each not in call.inference.known]
        wanting = "; ".join(checks[each].text for each in measured)
        if wanting:
            said.append(f"{checks[name].text}: first measure: {wanting}.")
    return tuple(said)


def done_before(call: Call, remedy: str) -> str:
    """Why a remedy is put again that was done without effect; ``""`` where it was not."""
    failed = [item for item in call.state.tries if item.remedy == remedy and not item.worked]
    if not failed:
        return ""
    since = [item for item in call.state.evidence if item.sequence > failed[-1].sequence]
    if any(hasattr(item, "check") for item in since):
        return "It was done, and the complaint stayed. What was found since speaks for it again."
    return "It was done, and the complaint stayed: was it done as it is written, and is the part good?"


def chance_explained(call: Call, remedy: Remedy) -> str:
    """Why a remedy's chance to end it is not that of the leading cause it removes; ``""`` where they are alike."""
    repair = next((each for each in call.planner.remedies if each.remedy.id == remedy.id), None)
    if repair is None:
        return ""
    removed = [
        (likely.probability, likely.title, call.trees.causes[likely.cause].remedies[remedy.id])
        for likely in call.likely()
        if likely.cause in call.trees.causes and remedy.id in call.trees.causes[likely.cause].remedies
    ]
    if not removed or abs(removed[0][0] - repair.fixes) <= _DIFFERS:
        return ""
    each = [f"{name} ({percent(chance)} likely), {percent(share)} of the time" for chance, name, share in removed[:3]]
    return f"It removes: {'; '.join(each)}."


def proof_card(call: Call, proof: Proof, why: str) -> Card:
    needed = len(call.needed_proofs())
    number = needed - len(call.open_proofs()) + 1
    heading, lines = f"Prove it, {min(number, needed)} of {needed}", [("Passes when", proof.passes_when)]
    another = ("Another proof first", "another", "", "instead")
    choices = numbered(("It passes", "passed"), ("It fails", "failed"), another)
    return _task_card(call, proof, heading, why, lines, choices)


def job_card(call: Call, job: Job, why: str) -> Card:
    """A piece of work on a walk; where it is not right, the complaints that such a door has."""
    walk, units = call.walk, call.trees
    assert walk is not None
    here = [each for each in walk.jobs if applies(call.trees.jobs[each].applies, call.facts)]
    done = len(here) - len(call.open_jobs())
    came = call.state.jobs.get(job.id)
    named = dict.fromkeys(name for check in job.reads for name in (*inputs_of(units, units.checks[check]), check))
    read = [check for check in named if check in call.state.answers]
    lines = [("Passes when", job.passes_when)]
    lines += [
        (units.checks[check].text, words.answer_in_words(units.checks[check], call.state.answers[check]))
        for check in read
    ]
    lines += [("Worked out", text) for text in _worked_out(call, job)]
    if job.lists == "yes":
        lines += [("For the owner", text) for text in owner_list(call) or [NOTHING_TO_PLAN]]
    choices = [("Done, and it is right", "done"), ("It is not right", "not right", "What is not right?")]
    if came is not None and came.came == "not right":
        looks = [(f"Look into: {units.symptoms[each].title}", each) for each in call.raised_by(job)]
        choices = [choices[0], *looks]
    choices += [
        ("Not needed here", "not needed", "Why is it not needed at this door?"),
        ("Another job first", "another", "", "instead"),
        _LEAVE,
    ]
    heading = f"{walk.stage_of(job.id)}, {done + 1} of {len(here)}"
    return _task_card(call, job, heading, why, lines, numbered(*choices))


def _worked_out(call: Call, job: Job) -> tuple[str, ...]:
    """What follows from the numbers that were read with a job, each once."""
    checks, workings = call.trees.checks, call.inference.workings
    read = set(job.reads)
    told = (
        w.working for name, w in workings.items() if read.intersection((name, *inputs_of(call.trees, checks[name])))
    )
    return tuple(dict.fromkeys(told))


def state_card(call: Call, energy: str) -> Card:
    """A state that somebody wants to bring the door into."""
    state = call.trees.energy[energy]
    cautions = words.cautions_named(call.trees, state.cautions)
    choices = numbered((f"Done: {state.title}", "do"), ("Leave it as it is", ""))
    read = cautions_read(call)
    return Card("energy", energy, "Into the state", state.title, "", state.how, cautions, read, choices=choices)


def _energy_card(call: Call, planned: Planned) -> Card:
    step = planned.step
    state = call.trees.energy[step.id]
    other: tuple[str, ...] = _UNFINISHED if planned.complaint else _LEAVE if step.goal == RETURN else _INSTEAD
    needed = () if planned.complaint or step.goal == RETURN else (("For", words.step_title(call.trees, *planned.goal)),)
    also = tuple(("Before you touch it", how) for how in isolation(state, call.facts))
    return Card(
        "energy",
        state.id,
        "Change of state",
        f"Bring the door to: {state.title}",
        step.why,
        state.how,
        words.cautions_named(call.trees, state.cautions),
        facts=(minutes(step.minutes), f"now: {words.title(call.trees, 'energy', call.energy)}"),
        lines=(*also, *needed),
        choices=numbered((f"Done, the door is: {state.title}", "entered"), other),
    )


class _Stop(NamedTuple):
    """What the card of a stop has; ``says`` is its title where that is not why it is put."""

    heading: str
    lines: Lines
    choices: Sequence[tuple[str, ...]]
    says: str = ""


def _stop_card(call: Call, step: Step) -> Card:
    stops: dict[str, Callable[[Call, Step], _Stop]] = {
        "closed": _closed,
        "no symptom": lambda *_: _Stop("No complaint yet", (), [("Say what is wrong", "door", "", "door")]),
        RETURN: _return,
        PROOF_FAILED: _failed,
        COME: _come,
    }
    stop = stops.get(step.id, _hand_over)(call, step)
    title, why = (stop.says, step.why) if stop.says else (step.why, "")
    choices = numbered(*stop.choices)
    return Card("stop", step.id, stop.heading, title, why, lines=tuple(stop.lines), choices=choices)


def _closed(call: Call, _: Step) -> _Stop:
    state = call.state
    lines = [("Reason", state.reason)] if state.reason else []
    lines += [(PLAN, text) for text in due_at(call)]
    keep = [("Keep this door for its next call", "keep", "", "keep")] if state.site or state.door else []
    report, start = ("Read and save the record", "report", "", "report"), ("Back to the start", "back", "", "start")
    return _Stop("Closed", lines, [report, *keep, ("Go on with this call", "reopen"), start])


def _return(call: Call, _: Step) -> _Stop:
    """Every proof has passed; what else is missing is said, and there is no returning before."""
    missing = [("Missing", each.sentence) for each in call.missing()]
    passed = [("✓ passed", proof.title) for proof in call.needed_proofs()]
    heading = f"{'Ready' if not missing else 'Not ready'} to be {call.ends}"
    return _Stop(heading, [*missing, *passed], [(_BACK[call.ends], "return"), _LEAVE])


def _failed(call: Call, step: Step) -> _Stop:
    """What a failed proof showed, to be taken up before the first complaint."""
    raised = call.raised_by(call.trees.proofs[step.goal])
    looks = [(f"Look into: {call.trees.symptoms[symptom].title}", symptom) for symptom in raised]
    return _Stop("A proof has failed", (), [*looks, ("Go on with the first complaint", "first-complaint"), _LEAVE])


def _come(call: Call, step: Step) -> _Stop:
    """The step that leads needs somebody who is not here: made safe and left, and who comes with which parts."""
    entry = call.trees.task(step.goal_kind, step.goal)
    assert entry is not None
    who = words.title(call.trees, "people", entry.who)
    lines = [("Must come", who), ("For", words.step_title(call.trees, step.goal_kind, step.goal))]
    if entry.who in call.state.coming:
        lines.append(("Comes", call.state.coming[entry.who]))
    if isinstance(entry, Remedy) and entry.parts:
        lines.append(("With the parts", words.parts_of(call.trees, entry)))
    choices = [
        ("Leave it out of service until they come", "leave-for", LEAVE_REASON),
        (f"Here now: {entry.who}", "here"),
        _INSTEAD,
        ("Wait for them: the call stays open", "wait-for", "When do they come?"),
    ]
    says = "Make the door safe and leave it out of service until they are here."
    return _Stop("Somebody must come", lines, choices, says)


def _hand_over(call: Call, _: Step) -> _Stop:
    odd = [check for check in call.surprise().odd if check in call.trees.checks]
    lines = [("Does not fit the rest", call.trees.checks[check].text) for check in odd[:3]]
    lines += [("Call", text) for text in whom_to_call(call)]
    look = [(f"Check again: {call.trees.checks[odd[0]].text}", odd[0], "", "again")] if odd else []
    better = call.fitting_better()
    lines += [("Would fit", in_words(call.trees, each)) for each in better]
    choices = [
        *look,
        *((f"Take it for: {call.trees.symptoms[each.symptom].title}", each.symptom) for each in better),
        ("I know something more", "known", "", "known"),
        ("Choose a repair", "repair", "", "repairs"),
        ("Leave it out of service and pass it on", "leave", LEAVE_REASON),
    ]
    return _Stop("Pass it on", lines, choices)


def facts_of(call: Call, entry: Task, state: bool = True) -> tuple[str, ...]:
    """In a few words each: how long, with what, who, in which ``state``, from where, how many people."""
    trees = call.trees
    facts = [minutes(entry.minutes), *entry.tool]
    if entry.who != "anyone":
        facts.append(words.absent_from(call, _KINDS[type(entry)], entry.id) or words.title(trees, "people", entry.who))
    if state and entry.energy != ANY:
        facts.append(words.title(trees, "energy", entry.energy))
    if entry.access in trees.access and trees.access[entry.access].minutes > 0:
        facts.append(trees.access[entry.access].title)
    if entry.crew > 1:
        facts.append(f"{entry.crew} people")
    return tuple(facts)
