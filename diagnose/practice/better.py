"""What to do better the next time: at most three things, in plain words, the gravest first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.knowledge.model import Trees
from diagnose.practice.judging import WRONG_FROM, Judged
from diagnose.practice.score import Wasted
from diagnose.practice.session import AskFor, Look, Mend, Session

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
            yield f"Read the cautions, and bring the door into the right state, before: {item.text}."
            break
    if session.call.state.outcome == "returned to service" and session.door.faults:
        yield "Try the door longer, and look for a second fault, before it goes back into service."
    if missing:
        yield f"Prove a repair before you leave it. Not proved here: {trees.proofs[missing[0]].title}."
    if order := _order(judged):
        yield order
    if wasted:
        yield f"Check before you fit a part. Fitted for nothing: {trees.remedies[wasted[0].remedy].title}."
    false = next((item for item in judged if item.done.false), None)
    if false is not None:
        yield f"Measure with the power that the reading needs: {_named(trees, false)}"
    hints = sum(isinstance(item.done.act, AskFor) for item in judged)
    if hints:
        yield "Say to yourself what the likeliest causes are, before you ask for a hint."


def _order(judged: Sequence[Judged]) -> str:
    """The choice that cost most, and what to take before it."""
    costly = max((item for item in judged if item.loss >= WRONG_FROM and item.best), key=lambda i: i.loss, default=None)
    if costly is None:
        return ""
    early = "Look before you repair" if isinstance(costly.done.act, Mend) else "Take the more telling step first"
    best = costly.best if costly.best[-1:] in "?.!" else f"{costly.best}."
    return f"{early}. In place of “{costly.text}”: {best} It would have saved about {costly.loss:.0f} min."


def _named(trees: Trees, item: Judged) -> str:
    act = item.done.act
    return trees.checks[act.check].text if isinstance(act, Look) else item.text
