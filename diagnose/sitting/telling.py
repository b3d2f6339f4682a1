"""What is told of a call when it is asked for: why this step, the evidence, the way so far, the record."""

from __future__ import annotations

from diagnose.calls.call import Call
from diagnose.calls.change_words import then_in_words
from diagnose.calls.verdict import chain_now, changes_in_words, suspects_now
from diagnose.calls.words import Told, event_in_words, remarks_on, step_title, title, with_absent
from diagnose.knowledge.model import COULD_NOT_TELL, UNLISTED
from diagnose.knowledge.words import percent
from diagnose.quantities.show import Shown
from diagnose.reasoning import explain
from diagnose.reasoning.chain import MEANING, causes_at, mark, split, whereabouts
from diagnose.reasoning.walk import led_to
from diagnose.sitting.cards import chance_explained
from diagnose.sitting.course import Planned, others_than
from diagnose.sitting.view import CallView

_UNLISTED = "Some fault that is not in the trees. It rises when the answers fit no cause that is."
# Causes and other steps listed with a reason, and the chance from which a cause's repairs are named on the map.
_MOST, _LIKELY = 6, 0.05
# Causes named at a link of the chain; and a chance that is not worth its figure.
_AT_A_LINK, _HARDLY = 3, 0.005


def why(call: Call, planned: Planned, units: Shown = "us") -> list[Told]:
    """Why this step, what each finding would mean, what would change the lead, and what else was weighed.

    On a door that is known, what it read then, and how that differs from what is read now, come first.
    """
    step, planner = planned.step, call.planner
    lines = [Told("heading", "Why this next?"), Told("text", step.why or "It is what is left to do.")]
    lines += _then_and_now(call, step.goal if step.goal_kind == "check" else "", units)
    if call.state.proving or call.state.outcome is not None or planned.complaint:
        return lines
    if step.goal_kind == "remedy" and step.goal in call.trees.remedies:
        chance = chance_explained(call, call.trees.remedies[step.goal])
        lines += [Told("text", chance)] if chance else []
    candidate = next((each for each in planner.candidates if each.way.goal == step.goal), None)
    if step.goal_kind == "check" and candidate is not None:
        lines += [Told("heading", "What if I find …"), Told("text", call.trees.checks[step.goal].text)]
        for found in explain.consequences(planner, candidate):
            cause = explain.cause_title(call.trees, found.cause)
            then = f"{percent(found.probability)} {cause}"
            lines.append(Told("item", f"{found.answer} ({percent(found.chance)}): then {then}"))
        if splits := split(call.situation, chain_now(call), call.trees.checks[step.goal]):
            lines.append(Told("text", splits))
    lines.append(Told("heading", "What would change my mind:"))
    changers = explain.mind_changers(planner)
    lines += [Told("item", text) for text in changers]
    if not changers:
        lines.append(Told("text", "No answer still to be had would put another cause first."))
    others = others_than(planned)[: _MOST - 1]
    if others:
        lines.append(Told("heading", "What else was weighed:"))
    for other in others:
        named = f"Repair: {other.title}." if other.kind == "remedy" else other.title
        lines.append(Told("item", f"{named} {'; '.join(filter(None, (other.extra, *other.remarks)))}"))
    return lines


def _then_and_now(call: Call, check: str, units: Shown) -> list[Told]:
    """What the check to be done read when the door was right, and what was read since that differs."""
    trees, told = call.trees, []
    if check in call.state.then and check in trees.checks:
        when = then_in_words(trees.checks[check], call.state.then[check], units)
        told.append(Told("text", f"When this door was right it read {when}."))
    now = [Told("item", f"{trees.checks[name].text}: {said}.") for name, said in changes_in_words(call, units).items()]
    return [*told, Told("heading", "Then and now"), *now] if now else told


def chain(call: Call) -> list[Told]:
    """Where along the chain of functions the fault lies: in sentences, then link by link with the likeliest causes."""
    found = chain_now(call)
    if not found:
        return [Told("text", "This complaint hangs on no chain of functions.")]
    lines = [Told("heading", "Where the fault lies"), *(Told("text", text) for text in whereabouts(found))]
    lines.append(Told("heading", MEANING))
    at = causes_at(call.situation, found, call.inference.belief)
    for link in found:
        share = f", {percent(link.here)}" if link.here >= _HARDLY else ""
        lines.append(Told("text", f"{mark(link)} {link.title}{share}"))
        named = at[link.function][:_AT_A_LINK]
        lines += [Told("item", f"{percent(chance)}  {call.trees.causes[cause].title}") for cause, chance in named]
    return lines


def evidence(call: Call, suspect: str, units: Shown = "us") -> list[Told]:
    """A suspect by its name in the view: what it is, what speaks for it and against it, and what removes it."""
    lines: list[Told] = []
    for each in (each for each in suspects_now(call, units) if each.cause in suspect.split(" + ")):
        lines.append(Told("heading", f"{each.title}, {percent(each.probability)}"))
        about = _UNLISTED if each.cause == UNLISTED else each.explain
        lines += [Told("text", about)] if about else []
        for heading, wanted in (("For it", True), ("Against it", False)):
            told = [reason for reason in each.telling if (reason.factor >= 1) == wanted]
            lines.append(Told("heading", heading))
            lines += [Told("item", f"{reason.check} {reason.found}: {reason.words}.") for reason in told]
            lines += [] if told else [Told("item", "nothing yet")]
        if each.cause in call.trees.causes:
            lines.append(Told("heading", "Removed by"))
            lines += [Told("item", with_absent(call, remedy)) for remedy in call.trees.causes[each.cause].remedies]
    return lines or [Told("text", "No answer speaks for or against this alone.")]


def way_so_far(call: Call, view: CallView) -> list[Told]:
    """Complaint, what was said and done, what each answer opened, and where it points."""
    trees, known = call.trees, call.inference.known
    lines = [Told("heading", f"Complaint: {title(trees, 'symptoms', each)}") for each in call.state.symptoms]
    for item in view.trail:
        lines.append(Told("text", f"{item.at} {item.title} → {item.said}"))
        for opened in opened_by(call, item.id) if item.kind == "answer" else ():
            state = "done" if opened in known else "open"
            lines.append(Told("item", f"opens: {step_title(trees, 'check', opened)} ({state})"))
    lines += _jobs(call)
    if not call.state.symptoms:
        return lines
    lines.append(Told("heading", "Where it points"))
    for suspect in view.suspects[:_MOST]:
        lines.append(Told("text", f"{percent(suspect.probability)}  {suspect.title}"))
        cause = trees.causes.get(suspect.cause)
        if cause is not None and suspect.probability >= _LIKELY:
            lines += [Told("item", f"repair: {with_absent(call, remedy)}") for remedy in cause.remedies]
    return lines


def _jobs(call: Call) -> list[Told]:
    """The jobs of the walk by stage, each with how it came out."""
    if call.walk is None:
        return []
    lines, left = [], {job.id for job in call.open_jobs()}
    for stage in call.walk.stages.values():
        lines.append(Told("heading", stage.title))
        for job in stage.jobs:
            came = call.state.jobs.get(job)
            if came is not None or job in left:
                said = f"{came.came}{f', {came.reason}' if came.reason else ''}" if came is not None else "open"
                lines.append(Told("item", f"{step_title(call.trees, 'job', job)}: {said}"))
    return lines


def opened_by(call: Call, check: str) -> tuple[str, ...]:
    """The checks that the answer to ``check`` opened, on this door."""
    entry, answer = call.trees.checks.get(check), call.inference.known.get(check)
    if entry is None or answer is None:
        return ()
    if answer == COULD_NOT_TELL:
        opened = tuple(dict.fromkeys(each for several in entry.opens.values() for each in several))
    else:
        opened = led_to(entry, answer, "opens")
    return tuple(each for each in opened if each in call.situation.tables)


def history(call: Call) -> list[Told]:
    """Every entry of the call, and what became of those that no longer count."""
    remarks = remarks_on(call.events)
    return [
        Told("item", f"{event.sequence}. {event_in_words(call.trees, event)}{f' ({remark})' if remark else ''}")
        for event in call.events
        for remark in (remarks.get(event.sequence, ""),)
    ]
