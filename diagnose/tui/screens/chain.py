"""The chain of functions, link by link: what works, what is lost, and which causes lie at each link."""

from __future__ import annotations

from typing import TYPE_CHECKING

from diagnose.knowledge.words import percent
from diagnose.sitting.view import CallView
from diagnose.tui.screens.page import ReadingPage
from diagnose.tui.widgets.paragraphs import BLANK, Paragraph, heading, paragraph

if TYPE_CHECKING:
    from diagnose.calls.call import Call


def chain_page(call: Call, view: CallView) -> ReadingPage:
    return ReadingPage("Call › The chain of functions", chain_text(call, view))


def chain_text(call: Call, view: CallView) -> list[Paragraph]:
    """A line for each link, in order, with its likeliest causes; then the same in sentences."""
    from diagnose.reasoning.chain import MEANING, causes_at, mark, whereabouts

    if not view.chain:
        return [paragraph("This complaint hangs on no chain of functions, or the cause is found.")]
    lines = [heading("Where the fault lies"), *(paragraph(text) for text in whereabouts(view.chain)), BLANK]
    lines += [paragraph(MEANING), BLANK]
    at = causes_at(call.situation, view.chain, call.inference.belief)
    for link in view.chain:
        share = (f"  {percent(link.here)}", "bold") if link.here >= 0.005 else ("", "")
        lines.append(paragraph(f"{mark(link)} {link.title}", share, later="  "))
        for cause, chance in at[link.function][:3]:
            text = f"    {percent(chance):>5}  {call.trees.causes[cause].title}"
            lines.append(paragraph((text, "$text-muted"), later=" " * 11))
    return lines
