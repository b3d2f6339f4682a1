"""Why this next, what each finding would mean, and what would change the lead."""

from __future__ import annotations

from typing import TYPE_CHECKING

from diagnose.knowledge.words import percent
from diagnose.sitting.course import Planned
from diagnose.tui.screens.page import ReadingPage
from diagnose.tui.widgets.paragraphs import BLANK, Paragraph, heading, paragraph

if TYPE_CHECKING:
    from diagnose.calls.call import Call


def why_page(call: Call, planned: Planned) -> ReadingPage:
    return ReadingPage("Call › Why this next?", why_text(call, planned))


def why_text(call: Call, planned: Planned) -> list[Paragraph]:
    """The reasons, from the call as it stands."""
    from diagnose.calls.verdict import chain_now
    from diagnose.reasoning import explain
    from diagnose.reasoning.chain import split

    trees, step = call.trees, planned.step
    lines = [heading("Why this next?"), paragraph(step.why or "It is what is left to do.")]
    goal = step.goal or step.id
    if step.goal_kind == "check" and not call.state.proving:
        candidate = next((each for each in call.planner.candidates if each.way.goal == goal), None)
        if candidate is not None:
            lines += [BLANK, heading("What if I find …"), paragraph(trees.checks[goal].text)]
            for found in explain.consequences(call.planner, candidate):
                cause = explain.cause_title(trees, found.cause)
                then = f"  ({percent(found.chance)}): then {percent(found.probability)} {cause}"
                lines.append(paragraph("• ", (found.answer, "bold"), then, later="  "))
        if told := split(call.situation, chain_now(call), trees.checks[goal]):
            lines += [BLANK, paragraph(told)]
    if step.kind != "stop" and not call.state.proving:
        changers = explain.mind_changers(call.planner)
        lines += [BLANK, heading("What would change your mind?")]
        lines += [paragraph(f"• {text}", later="  ") for text in changers]
        if not changers:
            lines.append(paragraph("No answer still to be had would put another cause first."))
    others = [other for other in planned.alternatives if other.id != goal][:5]
    if others and not call.state.proving:
        lines += [BLANK, heading("What else was weighed  (A: another way)")]
        for other in others:
            said = "; ".join(filter(None, (other.extra, *other.remarks)))
            lines.append(paragraph(f"• {titled(other.kind, other.title)} ", (said, "bold"), later="  "))
    return lines


def titled(kind: str, title: str) -> str:
    return f"Repair: {title}." if kind == "remedy" else title
