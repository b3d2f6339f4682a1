"""The walk so far, as a tree of text: complaint, answers, what they opened, and where it points."""

from __future__ import annotations

from typing import TYPE_CHECKING

from diagnose.sitting.view import CallView, symptom_title
from diagnose.tui.screens.page import ReadingPage
from diagnose.tui.text import percent
from diagnose.tui.widgets.paragraphs import Paragraph, paragraph
from diagnose.tui.widgets.trail import sign_of

if TYPE_CHECKING:
    from diagnose.calls.call import Call


def map_page(call: Call, view: CallView) -> ReadingPage:
    return ReadingPage("Call › Map of the way so far", map_text(call, view))


def map_text(call: Call, view: CallView) -> list[Paragraph]:
    """The way walked on the graph."""
    from diagnose.calls.words import with_absent

    trees = call.trees
    known = call.inference.known
    lines = [
        paragraph(("Complaint  ", "bold"), symptom_title(trees, symptom), later="│          ")
        for symptom in call.state.symptoms
    ]
    for item in view.trail:
        lines.append(paragraph("│"))
        said = (item.said, "bold")
        lines.append(
            paragraph(f"├─ {sign_of(item)} {item.title}  ", said, (f"  {item.at}", "$text-muted"), later="│    ")
        )
        if item.kind == "answer":
            for opened in opened_by(call, item.id):
                mark = (f"  ({'done' if opened in known else 'open'})", "$text-muted")
                lines.append(paragraph(f"│    └ opens: {trees.checks[opened].text}", mark, later="│      "))
    lines += [paragraph("│"), paragraph(("└─ Where it points", "bold"))]
    for suspect in view.suspects[:6]:
        cause = trees.causes.get(suspect.cause)
        lines.append(
            paragraph("     ", (f"{percent(suspect.probability):>5}", "bold"), f"  {suspect.title}", later=" " * 12)
        )
        if cause is not None and suspect.probability >= 0.05:
            lines += [
                paragraph((f"            └ repair: {with_absent(call, remedy)}", "$text-muted"), later=" " * 14)
                for remedy in cause.remedies
            ]
    return lines


def opened_by(call: Call, check: str) -> tuple[str, ...]:
    """The checks that the answer to ``check`` opened, on this door."""
    from diagnose.knowledge.model import COULD_NOT_TELL
    from diagnose.reasoning.walk import led_to as led_to

    entry = call.trees.checks.get(check)
    answer = call.inference.known.get(check)
    if entry is None or answer is None:
        return ()
    if answer == COULD_NOT_TELL:
        opened = tuple(dict.fromkeys(each for several in entry.opens.values() for each in several))
    else:
        opened = led_to(entry, answer, "opens")
    return tuple(each for each in opened if each in call.situation.tables)
