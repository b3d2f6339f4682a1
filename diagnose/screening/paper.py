"""The dispatch sheet: a document of one page, sketches on its back, and plain data for another program."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from typing import Any

from diagnose.calls.call import Call
from diagnose.calls.document import Block, Document, Heading, Line, Paper, Table, soft
from diagnose.calls.sketches import sketched, sketches_for
from diagnose.calls.state import Answer
from diagnose.calls.words import UNLISTED_TITLE, facts_in_words, title
from diagnose.knowledge.model import COULD_NOT_TELL, Sketch, Trees
from diagnose.knowledge.words import about, local_time
from diagnose.screening.danger import Raised, to_ask
from diagnose.screening.handover import worth_rechecking
from diagnose.screening.sheet import Sent, Sheet
from diagnose.screening.spoken import Spoken

Rows = list[tuple[str, str]]
Section = tuple[str, Rows]
NOTICE = (
    "The program advises. Local codes, the maker's instructions and licensed practice come first. What is said here of "
    "the door is what a caller said."
)
_MAY_BE = "WHERE IT MAY BE"
# What fits on one page; more is counted, not dropped in silence.
_MOST_PARTS, _MOST_ANSWERS, _MOST_TOOLS, _MOST_AGAIN = 10, 4, 6, 2
# Instructions that stand in full, and characters of a note: the call has all of them.
_MOST_INSTRUCTIONS, _LONGEST_NOTE = 3, 140


def sheet_document(
    call: Call, sheet: Sheet, call_id: str = "", spoken: Spoken | None = None, paper: Paper = "letter"
) -> Document:
    """The sheet as a page to be set, sketches on the next."""
    title = soft(heading_of(call, call_id))
    first: list[Block] = [Heading(title, 1)]
    for heading, rows in sheet_sections(call, sheet, spoken):
        cells = tuple((soft(label), soft(text)) for label, text in rows)
        first += [Heading(soft(heading)), Table(("", ""), cells, (1, 5))]
    drawn = _sketched(call, sheet)
    back = [Heading(_MAY_BE), *sketched(call.trees, drawn)] if drawn else []
    return Document(title, (*first, Line(NOTICE, "small")), tuple(back), paper=paper)


def _sketched(call: Call, sheet: Sheet) -> list[tuple[Sketch, tuple[str, ...]]]:
    """The sketches of such a door that show where what is likely would be repaired, each with what it marks."""
    trees = call.trees
    chances = [trees.causes[each.cause].remedies for each in sheet.likely if each.cause in trees.causes]
    remedies = [trees.remedies[max(some, key=lambda remedy: some[remedy])] for some in chances if some]
    return sketches_for(trees, remedies, call.facts)


def heading_of(call: Call, call_id: str = "") -> str:
    """What stands above a sheet: ``Dispatch sheet 2026-03-02-k7qd: Mill, Door 3``."""
    return f"Dispatch sheet{f' {call_id}' if call_id else ''}: {_where(call)}"


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


def sheet_sections(call: Call, sheet: Sheet, spoken: Spoken | None = None) -> list[Section]:
    """The sheet as headings, each with (label, text) lines: the same on the screen, in plain lines and on paper.

    What the caller is to be told is in the language of ``spoken``, or in that of the trees.
    """
    spoken = spoken or Spoken(call.trees)
    sections = [
        ("HOW SOON", _how_soon(call, sheet)),
        ("TELL THE CALLER", _to_tell(call, sheet, spoken)),
        ("THE CALL", _the_call(call)),
        ("WHO GOES", _who(sheet)),
        ("LOAD", _load(call.trees, sheet)),
        ("WHAT IT MAY BE", _likely(sheet)),
        ("WHAT THE CALLER ANSWERED", _answered(call)),
        ("LOOK AGAIN AT THE DOOR", _look_again(call)),
    ]
    return [(heading, rows) for heading, rows in sections if rows]


def not_asked(call: Call) -> list[Any]:
    """The signs of danger that nobody asked the caller about."""
    return [danger for danger in to_ask(call.trees, call.facts) if danger.id not in call.state.dangers]


def crew_in_words(sheet: Sheet) -> str:
    """Who is sent: ``2 people: technician, a second person``."""
    people = "one person" if sheet.people == 1 else f"{sheet.people} people"
    return f"{people}: {', '.join(each.title for each in sheet.crew)}"


def reach_in_words(sheet: Sheet) -> str:
    """What to work from."""
    return ", ".join(each.title for each in sheet.reach) or "the floor"


def minutes_in_words(sheet: Sheet) -> str:
    """How long the visit takes, closing proofs included and travel not."""
    return f"{about(sheet.minutes.median)}; 8 in 10 such visits are done in {about(sheet.minutes.most)}"


def raised_in_words(trees: Trees, raised: Raised) -> str:
    """What was said that raised a danger."""
    match raised.how:
        case "answer":
            check = trees.checks.get(raised.what)
            return f"by the answer to: {check.text if check else raised.what}"
        case "complaint":
            return f"by the complaint: {title(trees, 'symptoms', raised.what)}"
        case "words":
            return f"by the words “{raised.what}”"
        case _:
            return "the caller says so"


# --- sections --------------------------------------------------------------------------------------------------------


def _where(call: Call) -> str:
    return ", ".join(filter(None, (call.state.site, call.state.door))) or "site not named"


def _how_soon(call: Call, sheet: Sheet) -> Rows:
    trees = call.trees
    said = {each.danger.title: f"{each.danger.title} ({raised_in_words(trees, each)})" for each in sheet.dangers}
    rows = [(sheet.urgency.upper(), "; ".join(said.get(reason, reason) for reason in sheet.reasons))]
    others = [text for danger, text in said.items() if danger not in sheet.reasons]
    if others:
        rows.append(("Danger too", "; ".join(others)))
    open_signs = not_asked(call)
    if open_signs:
        rows.append(("Ask first", f"Not asked yet: {'; '.join(danger.title for danger in open_signs)}"))
    return rows


def _to_tell(call: Call, sheet: Sheet, spoken: Spoken) -> Rows:
    """What to do about each danger, what was not told yet first; and what the site should have ready."""
    rows = []
    ordered = sorted(sheet.dangers, key=lambda each: each.danger.id in call.state.told)
    for each in ordered[:_MOST_INSTRUCTIONS]:
        tick = "✓ told" if each.danger.id in call.state.told else "NOT TOLD YET"
        rows.append((tick, f"{each.danger.word}: {spoken.instruction(each.danger)}"))
    for tick, told in (("NOT TOLD YET", False), ("✓ told", True)):
        others = [e.danger.title for e in ordered[_MOST_INSTRUCTIONS:] if (e.danger.id in call.state.told) is told]
        if others:
            rows.append((tick, f"Besides, what to do about: {'; '.join(others)}"))
    ready = " · ".join(spoken.preparation(each) for each in sheet.ready)
    return [*rows, ("Ask the site", ready)] if ready else rows


def _the_call(call: Call) -> Rows:
    """Where to go, whom to call back, and what is complained of; each line is there, said or not."""
    state, trees = call.state, call.trees
    opened = local_time(state.opened_at)
    told = [textwrap.shorten(" ".join(text.split()), _LONGEST_NOTE, placeholder=" …") for _, text in state.notes]
    known = {fact: value for fact, value in state.facts.items() if fact in trees.facts and value}
    facts = [f"{fact}: {said}" for fact, said in facts_in_words(trees, known)]
    rows = [
        ("Where", _where(call)),
        ("Caller", f"{state.caller or 'not named'}; {f'call back {state.number}' if state.number else 'no number'}"),
        ("Complaint", "; ".join(title(trees, "symptoms", symptom) for symptom in state.symptoms)),
        ("In their words", " ".join(f"“{text}”" for text in (*told[:1], *told[1:][-1:]))),
        ("The door", "; ".join(facts)),
        ("Called", opened),
    ]
    return [row for row in rows if row[1]]


def _who(sheet: Sheet) -> Rows:
    rows = [("Send", crew_in_words(sheet))]
    why = " · ".join(f"{each.title}: {each.why}" for each in sheet.crew if each.why)
    if why:
        rows.append(("Why", why))
    if sheet.at_site:
        rows.append(("At the site", ", ".join(each.title for each in sheet.at_site)))
    rows.append(("Work from", ", ".join(f"{each.title}{f' ({each.why})' if each.why else ''}" for each in sheet.reach)))
    rows[-1] = rows[-1] if rows[-1][1] else ("Work from", "the floor")
    rows.append(("On site", f"{minutes_in_words(sheet)}, proofs included, travel not"))
    tools = [tool.title for tool in sheet.tools]
    more = f" and {len(tools) - _MOST_TOOLS} more" if len(tools) > _MOST_TOOLS else ""
    return [*rows, ("Tools", ", ".join(tools[:_MOST_TOOLS]) + more)] if tools else rows


def _load(trees: Trees, sheet: Sheet) -> Rows:
    """The parts to tick off as they are loaded, by how likely they are needed."""
    load, van = sheet.load, sheet.van
    groups: dict[str, list[str]] = {}
    for each in load.loads[:_MOST_PARTS]:
        groups.setdefault(_needed(each.chance), []).append(f"□ {each.count} × {title(trees, 'parts', each.part)}")
    rows = [(needed, " ".join(parts)) for needed, parts in groups.items()]
    if len(load.loads) > _MOST_PARTS:
        rows.append(("Besides", f"{len(load.loads) - _MOST_PARTS} kinds of part that are seldom needed"))
    if not rows:
        return [("No parts", "None is likely enough to be needed.")]
    rows.append(("In the van", f"{load.weight:.0f} of {van.weight:g} kg, {load.volume:.0f} of {van.volume:g} l"))
    if load.no_room:
        rows.append(("No room for", ", ".join(title(trees, "parts", each.part) for each in load.no_room[:3])))
    return rows


def _likely(sheet: Sheet) -> Rows:
    rows = []
    for each in sheet.likely:
        repair = f". Usual repair: {each.remedy}" if each.remedy else ""
        rows.append((how_likely(each.probability), f"{each.title}{repair}"))
    return [*rows, (how_likely(sheet.unlisted), UNLISTED_TITLE)]


def _answered(call: Call) -> Rows:
    answers = [
        item
        for item in call.state.evidence
        if isinstance(item, Answer) and item.heard == "told" and item.value != COULD_NOT_TELL
    ]
    checks = call.trees.checks
    rows = [
        ("Answered", f"{check.text if (check := checks.get(answer.check)) else answer.check} {answer.raw[-1]}")
        for answer in answers[:_MOST_ANSWERS]
    ]
    if len(answers) > _MOST_ANSWERS:
        rows.append(("And", f"{len(answers) - _MOST_ANSWERS} more answers, which are in the call"))
    return rows


def _look_again(call: Call) -> Rows:
    return [
        ("See", f"{call.trees.checks[each.check].text} {each.why}") for each in worth_rechecking(call)[:_MOST_AGAIN]
    ]


# A chance as it is said on the sheet: from that chance on.
_NEEDED = ((0.5, "Likely needed"), (0.15, "Maybe needed"), (0.0, "Just in case"))
_LIKELY = ((0.6, "Most likely"), (0.3, "Likely"), (0.1, "Possible"), (0.0, "Less likely"))


def _needed(chance: float) -> str:
    return next(word for least, word in _NEEDED if chance >= least)


def how_likely(chance: float) -> str:
    """How likely a cause is, in a word or two."""
    return next(word for least, word in _LIKELY if chance >= least)


def _sent(each: Iterable[Sent]) -> list[dict[str, Any]]:
    return [{"id": item.id, "title": item.title, "needed": round(item.chance, 4)} for item in each]
