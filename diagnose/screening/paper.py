"""The dispatch sheet on one page: as Markdown, as an HTML page that prints, and as plain data for another program."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from diagnose.calls.call import Call
from diagnose.calls.markdown import escape, html_of, html_page, table
from diagnose.calls.state import Answer
from diagnose.calls.words import UNLISTED_TITLE, minutes, percent, title
from diagnose.knowledge.model import COULD_NOT_TELL, Trees
from diagnose.screening.danger import Raised, to_ask
from diagnose.screening.handover import worth_rechecking
from diagnose.screening.sheet import Sent, Sheet

NOTICE = (
    "The program advises. Local codes, the maker's instructions and licensed practice come first. What is said here of "
    "the door is what a caller said."
)
# What fits on one page; more is counted, not dropped in silence.
_MOST_PARTS, _MOST_ANSWERS, _MOST_TOOLS, _MOST_NOTES, _MOST_AGAIN = 10, 6, 8, 2, 2
# Instructions that stand in full, and characters of a note: the call has all of them.
_MOST_INSTRUCTIONS, _LONGEST_NOTE = 3, 160
_STYLE = """
body { font-size: 10pt; line-height: 1.3; max-width: 46rem; margin: 1rem auto; }
h1 { font-size: 1.3rem; margin: 0 0 .3rem; }
h1 + p { padding: .3rem .6rem; margin: .3rem 0; }
h2 { font-size: 1rem; margin: .7rem 0 .2rem; }
p, ul { margin: .3rem 0; }
th, td { padding: .1rem .4rem; }
hr { margin-top: .6rem; }
@page { margin: 10mm 12mm; }
@media print {
  body { font-size: 8.5pt; line-height: 1.2; }
  table { font-size: inherit; }
  hr + p { font-size: .9em; }
  h1 { font-size: 1.4em; margin: 0 0 .2rem; }
  h2 { font-size: 1.1em; margin: .4rem 0 .1rem; }
  p, ul { margin: .2rem 0; }
  th, td { padding: 0 .4rem; }
  hr { margin-top: .3rem; }
}
"""


def markdown_sheet(call: Call, sheet: Sheet, call_id: str = "") -> str:
    """The sheet as Markdown. Whatever was typed or stands in the trees is escaped."""
    lines = [
        *_head(call, sheet, call_id),
        *_dangers(sheet),
        *_visit(sheet),
        *_load(call.trees, sheet),
        *_likely(sheet),
        *_said(call),
        *_look_again(call),
        *_ready(sheet),
        "---",
        "",
        NOTICE,
    ]
    return "\n".join(lines) + "\n"


def html_sheet(call: Call, sheet: Sheet, call_id: str = "") -> str:
    """The sheet as one HTML page, made to be printed on one sheet of paper."""
    return html_page(f"Dispatch sheet {call_id}".strip(), html_of(markdown_sheet(call, sheet, call_id)), _STYLE)


def sheet_data(call: Call, sheet: Sheet) -> dict[str, Any]:
    """The sheet as plain data: strings, numbers, lists and dicts."""
    trees = call.trees
    return {
        "site": call.state.site,
        "door": call.state.door,
        "caller": call.state.caller,
        "call_back": call.state.number,
        "complaints": list(call.state.symptoms),
        "danger": [
            {"id": each.danger.id, "title": each.danger.title, "instruction": each.danger.instruction, "by": each.how}
            for each in sheet.dangers
        ],
        "danger_not_asked": [danger.id for danger in not_asked(call)],
        "urgency": {"level": sheet.urgency, "reasons": list(sheet.reasons)},
        "crew": {"people": sheet.people, "send": _sent(sheet.crew), "at_site": _sent(sheet.at_site)},
        "work_from": _sent(sheet.reach),
        "left_at_home": _sent(sheet.considered),
        "minutes": {
            "median": round(sheet.minutes.median),
            "eight_in_ten_within": round(sheet.minutes.most),
            "one_in_ten_within": round(sheet.minutes.least),
        },
        "parts": [
            {
                "part": load.part,
                "title": title(trees, "parts", load.part),
                "count": load.count,
                "needed": round(load.chance, 4),
                "worth_from": round(load.worth_from, 4),
            }
            for load in sheet.load.loads
        ],
        "no_room_for": [{"part": load.part, "needed": round(load.chance, 4)} for load in sheet.load.no_room],
        "van": {"weight_kg": round(sheet.load.weight, 2), "volume_l": round(sheet.load.volume, 2)},
        "all_parts_on_van": round(sheet.load.covered, 4),
        "tools": [tool.id for tool in sheet.tools],
        "ready": [{"id": each.id, "title": each.title} for each in sheet.ready],
        "likely": [
            {"cause": each.cause, "title": each.title, "probability": round(each.probability, 4), "remedy": each.remedy}
            for each in sheet.likely
        ],
        "unlisted": round(sheet.unlisted, 4),
    }


def sheet_sections(call: Call, sheet: Sheet) -> list[tuple[str, list[tuple[str, str]]]]:
    """The sheet as headings, each with (label, text) lines, for a screen or a plain terminal."""
    trees, load = call.trees, sheet.load
    how_soon = [(sheet.urgency.upper(), "; ".join(sheet.reasons))]
    open_signs = not_asked(call)
    if open_signs:
        how_soon.append(("Not asked yet", "; ".join(danger.title for danger in open_signs)))
    sections = [("THE CALL", _the_call(call)), ("HOW SOON", how_soon)]
    if sheet.dangers:
        sections.append(("DANGER", [(each.danger.title, raised_in_words(trees, each)) for each in sheet.dangers]))
    visit = [("Send", crew_in_words(sheet))]
    if sheet.at_site:
        visit.append(("At the site", ", ".join(_with_chance(each) for each in sheet.at_site)))
    visit += [("Work from", reach_in_words(sheet)), ("On site", minutes_in_words(sheet))]
    visit.append(("Tools", ", ".join(tool.title for tool in sheet.tools) or "none"))
    sections.append(("WHO AND HOW LONG", visit))
    parts = [
        (
            percent(each.chance),
            f"{each.count} × {title(trees, 'parts', each.part)} (worth taking from {percent(each.worth_from)})",
        )
        for each in load.loads
    ]
    parts.append(
        (
            "",
            f"{load.weight:.1f} of {sheet.van.weight:g} kg, {load.volume:.1f} of {sheet.van.volume:g} l; "
            f"all that the repair takes is there in {percent(load.covered)} of such calls",
        )
    )
    if load.no_room:
        parts.append(("No room for", ", ".join(title(trees, "parts", each.part) for each in load.no_room)))
    sections.append(("LOAD", parts))
    likely = [
        (percent(each.probability), f"{each.title}. {each.remedy}" if each.remedy else each.title)
        for each in sheet.likely
    ]
    sections.append(("LIKELY", [*likely, (percent(sheet.unlisted), UNLISTED_TITLE)]))
    again = worth_rechecking(call)
    if again:
        sections.append(("LOOK AGAIN AT THE DOOR", [(trees.checks[each.check].text, each.why) for each in again]))
    return sections


def not_asked(call: Call) -> list[Any]:
    """The signs of danger that nobody asked the caller about."""
    return [danger for danger in to_ask(call.trees, call.situation.facts) if danger.id not in call.state.dangers]


def crew_in_words(sheet: Sheet) -> str:
    """Who is sent: ``technician, a second person (34 %)``."""
    return ", ".join(_with_chance(each) for each in sheet.crew)


def reach_in_words(sheet: Sheet) -> str:
    """What to work from."""
    return ", ".join(_with_chance(each) for each in sheet.reach) or "the floor"


def minutes_in_words(sheet: Sheet) -> str:
    """How long the visit takes, closing proofs included and travel not."""
    return f"about {minutes(sheet.minutes.median)}; 8 in 10 such visits are done within {minutes(sheet.minutes.most)}"


def raised_in_words(trees: Trees, raised: Raised) -> str:
    """What raised a danger."""
    match raised.how:
        case "answer":
            check = trees.checks.get(raised.what)
            return f"by the answer to: {check.text if check else raised.what}"
        case "complaint":
            return f"by the complaint: {title(trees, 'symptoms', raised.what)}"
        case "words":
            return f"by the words “{raised.what}”"
        case _:
            return "said outright"


# --- sections --------------------------------------------------------------------------------------------------------


def _the_call(call: Call) -> list[tuple[str, str]]:
    """Where to go, whom to call back, and what is complained of; each line is there, said or not."""
    state = call.state
    opened = datetime.fromisoformat(state.opened_at).astimezone().strftime("%Y-%m-%d %H:%M")
    return [
        ("Where", ", ".join(filter(None, (state.site, state.door))) or "site not named"),
        ("Caller", ", ".join(filter(None, (state.caller, state.number))) or "not named, no number to call back"),
        ("Complaint", "; ".join(title(call.trees, "symptoms", symptom) for symptom in state.symptoms)),
        ("Called", opened),
    ]


def _head(call: Call, sheet: Sheet, call_id: str) -> list[str]:
    state, trees = call.state, call.trees
    (_, where), (_, caller), (_, complaints), (_, opened) = _the_call(call)
    head = f"Dispatch sheet{f' {escape(call_id)}' if call_id else ''}: {escape(where)}"
    reasons = escape("; ".join(sheet.reasons))
    lines = [f"# {head}", "", f"**{escape(sheet.urgency.upper())}.** {reasons}", ""]
    open_signs = not_asked(call)
    if open_signs and not sheet.dangers:
        asked = "; ".join(danger.title for danger in open_signs)
        lines += [f"**Ask the caller about danger first.** Not asked: {escape(asked)}.", ""]
    lines += [f"**{escape(complaints)}** Called {opened} by {escape(caller)}.", ""]
    facts = [
        f"{trees.facts[fact].title}: {value if isinstance(value, str) else ', '.join(value)}"
        for fact, value in state.facts.items()
        if fact in trees.facts and value
    ]
    if facts:
        lines += [escape("; ".join(facts)), ""]
    notes = [text for _, text in state.notes]
    shown = [f"“{escape(textwrap.shorten(text, _LONGEST_NOTE, placeholder=' …'))}”" for text in notes[-_MOST_NOTES:]]
    return [*lines, *([" ".join(shown), ""] if shown else [])]


def _dangers(sheet: Sheet) -> list[str]:
    if not sheet.dangers:
        return []
    lines = []
    for number, each in enumerate(sheet.dangers):
        told = f" Told the caller: {escape(each.danger.instruction)}" if number < _MOST_INSTRUCTIONS else ""
        lines.append(f"- **{each.danger.word}: {escape(each.danger.title)}.**{told}")
    return [*lines, ""]


def _visit(sheet: Sheet) -> list[str]:
    tools = [escape(tool.title) for tool in sheet.tools]
    more = f" and {len(tools) - _MOST_TOOLS} more" if len(tools) > _MOST_TOOLS else ""
    rows = [
        ("Send", escape(crew_in_words(sheet))),
        ("At the site", escape(", ".join(_with_chance(each) for each in sheet.at_site))),
        ("Work from", escape(reach_in_words(sheet))),
        ("On site", escape(f"{minutes_in_words(sheet)}, closing proofs included, travel not")),
        ("Tools", ", ".join(tools[:_MOST_TOOLS]) + more),
        ("Left at home", escape(", ".join(_with_chance(each) for each in sheet.considered if each.chance >= 0.02))),
    ]
    return table(("", ""), [row for row in rows if row[1]])


def _load(trees: Trees, sheet: Sheet) -> list[str]:
    load, van = sheet.load, sheet.van
    lines = ["## Load", ""]
    if load.loads:
        rows = [
            (
                f"{each.count} ×",
                escape(title(trees, "parts", each.part)),
                percent(each.chance),
                percent(each.worth_from),
            )
            for each in load.loads[:_MOST_PARTS]
        ]
        lines += table(("", "Part", "Needed", "Worth taking from"), rows)
    else:
        lines += ["No part is likely enough to be needed.", ""]
    said = [f"{len(load.loads) - _MOST_PARTS} more are on the list."] if len(load.loads) > _MOST_PARTS else []
    said.append(f"{load.weight:.1f} of {van.weight:g} kg, {load.volume:.1f} of {van.volume:g} l.")
    said.append(f"With this all that the repair takes is there in {percent(load.covered)} of such calls.")
    if load.no_room:
        left = ", ".join(f"{title(trees, 'parts', each.part)} ({percent(each.chance)})" for each in load.no_room[:3])
        said.append(f"No room for: {left}.")
    return [*lines, escape(" ".join(said)), ""]


def _likely(sheet: Sheet) -> list[str]:
    rows = [(percent(each.probability), escape(each.title), escape(each.remedy)) for each in sheet.likely]
    rows.append((percent(sheet.unlisted), UNLISTED_TITLE, ""))
    return ["## Likely", "", *table(("", "Cause", "Usual repair"), rows)]


def _said(call: Call) -> list[str]:
    answers = [
        item
        for item in call.state.evidence
        if isinstance(item, Answer) and item.heard == "told" and item.value != COULD_NOT_TELL
    ]
    if not answers:
        return []
    lines = []
    for answer in answers[:_MOST_ANSWERS]:
        check = call.trees.checks.get(answer.check)
        lines.append(f"- {escape(check.text if check else answer.check)} **{escape(answer.raw[-1])}**")
    if len(answers) > _MOST_ANSWERS:
        lines.append(f"- {len(answers) - _MOST_ANSWERS} more answers are in the call.")
    return ["## What the caller said", "", *lines, ""]


def _look_again(call: Call) -> list[str]:
    lines = [
        f"- {escape(call.trees.checks[each.check].text)} {escape(each.why)}"
        for each in worth_rechecking(call)[:_MOST_AGAIN]
    ]
    return ["## Look again at the door", "", *lines, ""] if lines else []


def _ready(sheet: Sheet) -> list[str]:
    if not sheet.ready:
        return []
    return ["## The customer has ready", "", f"{escape('; '.join(each.title for each in sheet.ready))}.", ""]


def _with_chance(sent: Sent) -> str:
    return sent.title if sent.chance >= 0.995 else f"{sent.title} ({percent(sent.chance)})"


def _sent(each: Iterable[Sent]) -> list[dict[str, Any]]:
    return [{"id": item.id, "title": item.title, "needed": round(item.chance, 4)} for item in each]


__all__ = [
    "crew_in_words",
    "html_sheet",
    "markdown_sheet",
    "minutes_in_words",
    "not_asked",
    "raised_in_words",
    "reach_in_words",
    "sheet_data",
    "sheet_sections",
]
