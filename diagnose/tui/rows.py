"""Rows of lists: complaints, calls that are kept, and what may be chosen in place of a step."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from diagnose.finding.complaints import families_by_use
from diagnose.knowledge.words import local_time, minutes, percent
from diagnose.tui.text import assemble, one_line, plain
from diagnose.tui.widgets.pick_list import Row, heading

if TYPE_CHECKING:
    from diagnose.calls.store import CallSummary
    from diagnose.knowledge.model import Symptom, Trees
    from diagnose.sitting.course import Alternative, RepairWay
    from diagnose.sitting.sitting import Sitting

# Complaints that may be meant by what is typed.
_MOST_NEAR = 8
_KINDS = {"check": "Look or measure", "remedy": "Repair", "proof": "Prove", "job": "Job", "stop": "Pass on"}


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
    parts = [alike, behind] if found.in_their_words else [behind, alike]
    return [*both, *(row for part in parts if len(part) > 1 for row in part)]


def _both_row(symptoms: Sequence[Symptom]) -> Row:
    """Two complaints of one sentence, to be taken together."""
    titles = " + ".join(one_line(symptom.title) for symptom in symptoms)
    return Row("symptom:" + "+".join(symptom.id for symptom in symptoms), assemble("  ", (titles, "bold")))


def call_row(trees: Trees, call: CallSummary, mark: str = "") -> Row:
    """A kept call on one line: when, where, and what was complained of; ``mark`` is what is to be seen first."""
    where = ", ".join(filter(None, (one_line(call.site), one_line(call.door)))) or "door without a name"
    complaint = "; ".join(trees.symptoms[each].title if each in trees.symptoms else each for each in call.symptoms)
    state = call.outcome or call.trouble or call.waiting
    shown = assemble(
        ("  " + local_time(call.last_at), "bold"),
        (f"  {mark}" if mark else "", "bold"),
        f"  {where}  ",
        (one_line(complaint), ""),
        f"  [{state}]" if state else "",
    )
    place = f"{call.site} {call.door}".strip() or "?"
    return Row(f"call:{call.id}", shown, f"{call.id} {call.state} {shown.plain}", title=place)


def other_rows(others: Sequence[Alternative]) -> list[Row]:
    """Other first steps, each by ``kind:id``, with what it costs more and what else is to be known of it."""
    return [
        Row(
            f"{other.kind}:{other.id}",
            assemble(
                (f"{_KINDS[other.kind]}: ", "bold"),
                one_line(other.title),
                (f"  {other.extra}" if other.extra else "", "$text-muted"),
                ("".join(f"  {remark}" for remark in other.remarks), "bold"),
            ),
        )
        for other in others
    ]


def known_rows(sitting: Sitting) -> list[Row]:
    """The checks that can be answered out of turn, each with what was answered so far."""
    from diagnose.calls.words import answer_in_words

    trees, answers = sitting.call.trees, sitting.call.state.answers
    rows = []
    for identity in sitting.bearing():
        check = trees.checks[identity]
        said = answers.get(identity)
        held = f"  (so far: {one_line(answer_in_words(check, said, sitting.units))})" if said is not None else ""
        unit = f"  [{check.unit}]" if check.unit else ""
        shown = assemble(one_line(check.text), (unit, "$text-muted"), (held, "bold"))
        rows.append(Row(identity, shown, " ".join(check.answers), title=check.text))
    return rows


def repair_rows(ways: Sequence[RepairWay]) -> list[Row]:
    """Each remedy below the likeliest cause it removes, those of causes nobody suspects last."""
    rows: list[Row] = []
    last, unsuspected = "", False
    for way in ways:
        if way.chance is None and not unsuspected:
            unsuspected = True
            rows.append(heading("NOT SUSPECTED HERE", 0))
        if way.cause != last:
            last, cause = way.cause, one_line(way.cause_title)
            chance = assemble((f"{percent(way.chance or 0.0)}  ", "bold"), (cause, "bold $text-accent"))
            rows.append(heading(cause) if way.chance is None else Row("", chance))
        remarks = "".join(f"  {remark}" for remark in filter(None, (*way.remarks, way.needs)))
        took = (f"  {minutes(way.minutes)}", "$text-muted")
        shown = assemble("  ", one_line(way.title), took, (remarks, "bold"))
        rows.append(Row(way.remedy, shown, under=one_line(way.cause_title), title=way.title))
    return rows


def proof_rows(sitting: Sitting) -> list[Row]:
    """Each proof that must pass, and what came of it so far."""
    return [Row(proof, plain(f"{told:<12}  {one_line(title)}"), set_in=14) for proof, title, told in sitting.proofs()]
