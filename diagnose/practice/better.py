"""What to do better the next time: at most three things, in plain words, the gravest first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.knowledge.model import Trees
from diagnose.knowledge.words import about
from diagnose.practice import acts
from diagnose.practice.judging import WRONG_FROM, Judged
from diagnose.practice.score import Wasted
from diagnose.practice.session import Session
from diagnose.practice.walked import walked

_MOST = 3


def to_do_better(
    session: Session, judged: Sequence[Judged], wasted: Sequence[Wasted], missing: Sequence[str]
) -> tuple[str, ...]:
    """Sentences, each about another habit: safety, proofs, the order of steps, parts, readings, hints."""
    found = _all(session, judged, [each for each in wasted if not each.forgiven], missing)
    return tuple(sentence for _, sentence in zip(range(_MOST), found, strict=False))


def _all(session: Session, judged: Sequence[Judged], wasted: Sequence[Wasted], missing: Sequence[str]) -> Iterator[str]:
    trees = session.trees
    for item in judged:
        if item.done.happened:
            named = _ended(_named(trees, item))
            yield f"Read the cautions, and bring the door into the right state, before you do this: {named}"
            break
    if session.scenario.walk:
        yield from _of_walk(session)
    elif session.call.state.outcome == "returned to service" and session.door.faults:
        yield "Try the door longer, and look for a second fault, before it goes back into service."
    if missing:
        more = f", and {len(missing) - 1} more" if len(missing) > 1 else ""
        yield f"Prove a repair before you leave it. Not proved here: {trees.proofs[missing[0]].title}{more}."
    if order := _order(trees, judged):
        yield order
    if wasted:
        yield f"Check before you fit a part. Fitted for nothing: {trees.remedies[wasted[0].remedy].title}."
    false = next((item for item in judged if item.done.false), None)
    if false is not None:
        yield f"Look and measure with the power on that it needs: {_ended(_named(trees, false))}"
    hints = sum(isinstance(item.done.act, acts.AskFor) for item in judged)
    if hints:
        yield "Say to yourself what the likeliest causes are, before you ask for a hint."


def _of_walk(session: Session) -> Iterator[str]:
    trees, scenario, found = session.trees, session.scenario, walked(session)
    for each in sorted(found.wrong, key=lambda each: each.found is not None):
        for done in each.passed[:1]:
            assert isinstance(done.act, acts.DoJob)
            job = trees.jobs[done.act.job]
            seen = scenario.wrong[each.cause].sights[job.id]
            yield f"Hold “{job.title}” against when it passes. To be seen there: {seen}"
    if session.call.state.outcome != session.call.ends:
        yield "Go on until every job is done and every proof has passed: only then is a door handed over."
    if found.unseen:
        count = len(found.unseen)
        first = f"“{_job(trees, found.unseen)}” first"
        yield f"Look before you say that it is right: {count} passed without a look, {first}."
    if found.blamed:
        yield f"Look twice before you call work wrong. This was right: {_job(trees, found.blamed)}."


def _job(trees: Trees, jobs: Sequence[str]) -> str:
    return trees.jobs[jobs[0]].title


def _order(trees: Trees, judged: Sequence[Judged]) -> str:
    """The choice that cost most, and what to take before it."""
    costly = max((item for item in judged if item.loss >= WRONG_FROM and item.best), key=lambda i: i.loss, default=None)
    if costly is None:
        return ""
    best, saved = _ended(costly.best), f"It would have saved {about(costly.loss)}."
    if isinstance(costly.done.act, acts.Finish):
        return f"Do not give a door up while something is worth doing. Next would have been: {best}"
    early = "Look before you repair" if isinstance(costly.done.act, acts.Mend) else "Take the more telling step first"
    return f"{early}. In place of “{_named(trees, costly)}”: {best} {saved}"


def _ended(text: str) -> str:
    return text if text[-1:] in "?.!" else f"{text}."


def _named(trees: Trees, item: Judged) -> str:
    """What was done, without what was found."""
    act = item.done.act
    return trees.checks[act.check].text if isinstance(act, acts.Look) else item.text
