"""Rows of the lists that more than one screen shows: complaints, and calls that are kept."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from diagnose.finding.complaints import families_by_use
from diagnose.sitting.view import clock_day, symptom_title
from diagnose.tui.text import assemble, one_line, plain
from diagnose.tui.widgets.pick_list import Row, heading

if TYPE_CHECKING:
    from diagnose.calls.store import CallSummary
    from diagnose.knowledge.model import Symptom, Trees

# Complaints that may be meant by what is typed.
_MOST_NEAR = 8


def symptom_rows(trees: Trees) -> list[Row]:
    """What a door may do wrong, below headings by family, what is complained of most first."""
    rows: list[Row] = []
    for family, symptoms in families_by_use(trees).items():
        title = trees.families[family].title if family in trees.families else family
        rows.append(heading(title))
        for symptom in symptoms:
            rows.append(_symptom_row(symptom, title))
    return rows


def _symptom_row(symptom: Symptom, under: str = "") -> Row:
    # The names in the trees are the trade's own words for it: "reverses at floor", "limits drift".
    names = f"{symptom.id} {symptom.family}".replace("-", " ")
    words = f"{symptom.caller} {symptom.plain} {names}"
    return Row(f"symptom:{symptom.id}", plain(f"  {one_line(symptom.title)}"), words, under)


def meant_rows(trees: Trees, typed: str) -> list[Row]:
    """What may be meant by what is typed: complaints in other words, and those that a cause of that name shows as."""
    from diagnose.finding.meant import meant

    found = meant(trees, typed)
    alike = [heading("WHAT THAT MAY MEAN", 0), *(_symptom_row(symptom) for symptom in found.alike[:_MOST_NEAR])]
    behind = [heading("A CAUSE OF THAT NAME SHOWS AS", 0), *(_symptom_row(symptom) for symptom in found.behind)]
    both = [_both_row(found.both)] if found.both else []
    parts = [alike, behind] if found.sure else [behind, alike]
    return [*both, *(row for part in parts if len(part) > 1 for row in part)]


def _both_row(symptoms: Sequence[Symptom]) -> Row:
    """Two complaints of one sentence, to be taken together."""
    titles = " + ".join(one_line(symptom.title) for symptom in symptoms)
    return Row("symptom:" + "+".join(symptom.id for symptom in symptoms), assemble("  ", (titles, "bold")))


def call_row(trees: Trees, call: CallSummary) -> Row:
    """A kept call on one line: when, where, and what was complained of."""
    where = ", ".join(filter(None, (one_line(call.site), one_line(call.door)))) or "door without a name"
    complaint = "; ".join(symptom_title(trees, symptom) for symptom in call.symptoms)
    state = call.outcome or call.trouble or call.waiting
    shown = assemble(
        ("  " + clock_day(call.last_at), "bold"),
        f"  {where}  ",
        (one_line(complaint), ""),
        f"  [{state}]" if state else "",
    )
    place = f"{call.site} {call.door}".strip() or "?"
    return Row(f"call:{call.id}", shown, f"{call.id} {call.state} {shown.plain}", title=place)
