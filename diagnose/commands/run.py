"""``diagnose run``: answer a call from a file and say what follows. Also the form of such files."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click
import msgspec

from diagnose.calls.call import Call
from diagnose.calls.likely import NOTHING_FITS
from diagnose.calls.words import absent_from, step_title
from diagnose.cli import Session
from diagnose.knowledge.entries import read_entry
from diagnose.knowledge.files import file_text
from diagnose.knowledge.marked_yaml import Marked, read_marked
from diagnose.knowledge.model import UNLISTED, Trees, as_facts
from diagnose.knowledge.problems import Place, Problems, TreeError, did_you_mean
from diagnose.knowledge.words import NotUnderstood, about, percent, roughly
from diagnose.practice.referring import as_the_trees_have_them, faults_of_answer, faults_of_facts

_MOST_SHOWN = 5


class CallFile(msgspec.Struct, frozen=True, kw_only=True):
    """A call file by its keys: ``answers`` maps checks to what is typed, a repeated reading several times."""

    # The file's name.
    id: str
    door: dict[str, str | tuple[str, ...]] = {}
    symptoms: tuple[str, ...] = ()
    people: tuple[str, ...] = ("anyone", "technician")
    answers: dict[str, tuple[str, ...]] = {}
    tried: tuple[tuple[str, bool], ...] = ()
    # The cause it is known to be; "" where that is not said.
    cause: str = ""


@dataclass(frozen=True)
class Outcome:
    """What follows from a call file. ``rank`` is the expected cause's place from 1, 0 where none is expected."""

    asked: CallFile
    call: Call
    rank: int


@click.command()
@click.argument("files", nargs=-1, required=True, metavar="FILE...", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print for a program to read.")
@click.pass_obj
def run(session: Session, files: tuple[Path, ...], as_json: bool) -> int:
    """Answer calls from files, and print the likely causes and the next step. Nothing is recorded.

    A FILE is YAML; a folder stands for every *.yaml in it:

    \b
      door: {drive: trolley, devices: [photo-eye, timer]}
      symptoms: [eye-lamp-wrong]
      answers: {eye-lamp-receiver: dark, eye-volts-far-end: 1.2 V}
      tried: [{remedy: realign-eyes, worked: no}]
      people: [anyone, technician]
      cause: eye-wiring-open

    All but the symptoms may be left out. With 'cause' the exit code is 1 where that cause is not among the first
    three. --json gives one object for one file, and {"calls": [...], "summary": {...}} for a folder or several.

    \b
    Examples:
      diagnose run call.yaml
      diagnose run calls/ --json
    """
    outcomes = [answered(session.trees, each) for each in read_call_files(files, session.trees)]
    single = len(files) == 1 and not files[0].is_dir()
    if as_json:
        found = [as_data(outcome) for outcome in outcomes]
        whole = found[0] if single else {"calls": found, "summary": summary(outcomes)}
        click.echo(msgspec.json.format(msgspec.json.encode(whole), indent=2).decode())
    elif single:
        click.echo("\n".join(in_full(outcomes[0])))
    else:
        click.echo("\n".join(in_brief(outcomes)))
    return 1 if any(outcome.asked.cause and outcome.rank > 3 for outcome in outcomes) else 0


def read_call_files(files: Iterable[Path], trees: Trees) -> list[CallFile]:
    """The call files at the given places, folders searched. Raises ``TreeError`` with every fault of all of them."""
    problems = Problems()
    found: list[CallFile] = []
    for place in files:
        paths = sorted(place.rglob("*.yaml")) if place.is_dir() else [place]
        if not paths:
            problems.error(Place(str(place), 1), "This folder holds no call files.", "Add *.yaml files.", "folder")
        for path in paths:
            call = _read(path, trees, problems)
            if call is not None:
                found.append(call)
    if problems.errors:
        raise TreeError(problems.errors)
    return found


def answered(trees: Trees, asked: CallFile) -> Outcome:
    """The call with everything in the file said, and where the expected cause stands."""
    call = Call(trees, asked.door, asked.symptoms, people=asked.people)
    for check, texts in asked.answers.items():
        for number, text in enumerate(texts):
            call.answer(check, text, mode="again" if number else "new")
    for remedy, worked in asked.tried:
        call.tried(remedy, worked)
    order = [each.cause for each in call.likely()]
    rank = (order.index(asked.cause) + 1 if asked.cause in order else len(order) + 1) if asked.cause else 0
    return Outcome(asked, call, rank)


def as_data(outcome: Outcome) -> dict[str, Any]:
    """Ranking, surprise and next step as plain data."""
    call = outcome.call
    step, surprise = call.next_step(), call.surprise()
    data: dict[str, Any] = {
        "file": outcome.asked.id,
        "likely": [msgspec.to_builtins(each) for each in call.likely()],
        "surprise": {
            "conflict": surprise.conflict,
            "unlisted": surprise.unlisted,
            "raised": surprise.raised,
            "odd": list(surprise.odd),
        },
        "next": {**msgspec.to_builtins(step), "title": step_title(call.trees, step.kind, step.id)},
    }
    if outcome.asked.cause:
        rank = outcome.rank
        data["expected"] = {
            "cause": outcome.asked.cause,
            "rank": rank,
            "first": rank == 1,
            "in_first_three": rank <= 3,
        }
    return data


def summary(outcomes: list[Outcome]) -> dict[str, int]:
    """How many calls, how many of them name their cause, and how often that came first or in the first three."""
    ranks = [outcome.rank for outcome in outcomes if outcome.asked.cause]
    return {
        "calls": len(outcomes),
        "with_cause": len(ranks),
        "first": sum(rank == 1 for rank in ranks),
        "in_first_three": sum(rank <= 3 for rank in ranks),
    }


def in_full(outcome: Outcome) -> list[str]:
    """One call for a person to read."""
    call = outcome.call
    lines = ["Likely:"]
    for each in call.likely()[:_MOST_SHOWN]:
        lines.append(f"  {percent(each.probability):>5}  {each.title}")
    surprise = call.surprise()
    if surprise.nothing_fits:
        lines.append(NOTHING_FITS)
    odd = surprise.odd
    if odd:
        lines.append("These fit ill with the rest:")
        lines += [f"  {call.trees.checks[check].text}" for check in odd]
    step = call.next_step()
    needs = absent_from(call, step.goal_kind or step.kind, step.goal or step.id)
    next_line = f"Next: {step_title(call.trees, step.kind, step.id)}"
    lines += ["", f"{next_line} ({needs})" if needs else next_line, f"  {step.why}"]
    if step.expected_minutes_left:
        low, high = step.interval
        lines.append(f"  To a proven door: {about(step.expected_minutes_left)} ({roughly(low)} to {roughly(high)}).")
    if outcome.asked.cause:
        lines += ["", _verdict(outcome)]
    return lines


def in_brief(outcomes: list[Outcome]) -> list[str]:
    """Many calls, a line each, and their sum."""
    lines = []
    for outcome in outcomes:
        first = outcome.call.likely()[0]
        said = f"  {_verdict(outcome)}" if outcome.asked.cause else ""
        lines.append(f"{outcome.asked.id}: {percent(first.probability)} {first.title}.{said}")
    total = summary(outcomes)
    lines.append(f"\n{total['calls']} calls.")
    if total["with_cause"]:
        lines[-1] += (
            f" Of {total['with_cause']} with a known cause it came first in {total['first']} "
            f"and in the first three in {total['in_first_three']}."
        )
    return lines


def _verdict(outcome: Outcome) -> str:
    place = "first" if outcome.rank == 1 else f"in place {outcome.rank}"
    return f"Expected {outcome.asked.cause}: {place}."


def _read(path: Path, trees: Trees, problems: Problems) -> CallFile | None:
    """One call file; every fault goes to ``problems`` at its line: first of its form, then of what it names."""
    text = file_text(path, str(path), problems, "Look at its name.", "file")
    marked = read_marked(text, str(path), problems) if text is not None else None
    if marked is None:
        return None
    given = {"id": str(path)}
    special = {"door": _facts, "answers": _answers, "tried": _tried}
    asked = read_entry(CallFile, marked, (), problems, given, special)
    return _known(asked, marked, trees, problems) if asked is not None else None


def _known(asked: CallFile, marked: Marked, trees: Trees, problems: Problems) -> CallFile:
    """What the file says, its facts as the trees have them; what they do not know goes to ``problems``."""

    def fault(path: tuple[str | int, ...], wrong: str, mend: str, rule: str = "unknown-id") -> None:
        problems.error(marked.place(*path), wrong, mend, rule)

    def known(path: tuple[str | int, ...], name: str, wrong: str, among: Collection[str]) -> None:
        if name not in among:
            fault(path, f"'{name}' {wrong}.", did_you_mean(name, among))

    if not asked.symptoms:
        fault((), "No complaint is stated.", "Write 'symptoms: [symptom-id]'.")
    for index, symptom in enumerate(asked.symptoms):
        known(("symptoms", index), symptom, "is no complaint", trees.symptoms)
    for index, person in enumerate(asked.people):
        known(("people", index), person, "is nobody these trees know", trees.people)
    for fact, *wrong_fact in faults_of_facts(trees, asked.door):
        fault(("door", fact), *wrong_fact)
    answers = {}
    for check, texts in asked.answers.items():
        one_text = check in trees.checks and trees.checks[check].series == "yes"
        answers[check] = ("; ".join(texts),) if one_text else texts
        for said in answers[check]:
            for wrong in faults_of_answer(trees, check, said):
                fault(("answers", check), *wrong)
    for index, (remedy, _) in enumerate(asked.tried):
        known(("tried", index), remedy, "is no repair", trees.remedies)
    if asked.cause:
        known(("cause",), asked.cause, "is no cause", (*trees.causes, UNLISTED))
    return msgspec.structs.replace(asked, door=as_the_trees_have_them(trees, asked.door), answers=answers)


def _facts(written: Any) -> dict[str, str | tuple[str, ...]]:
    return as_facts(_pairs(written, "door: {fact: value}"))


def _answers(written: Any) -> dict[str, tuple[str, ...]]:
    said = _pairs(written, "answers: {check: what was found}")
    return {check: tuple(map(str, each)) if isinstance(each, list) else (str(each),) for check, each in said.items()}


def _pairs(written: Any, form: str) -> Mapping[str, Any]:
    if not isinstance(written, Mapping):
        raise NotUnderstood("Names with values belong here.", f"Write '{form}'.")
    return written


def _tried(written: Any) -> tuple[tuple[str, bool], ...]:
    for each in written if isinstance(written, list) else [written]:
        if not isinstance(each, Mapping) or set(each) != {"remedy", "worked"}:
            raise NotUnderstood("A repair tried has 'remedy' and 'worked'.", "Write [{remedy: remedy-id, worked: no}].")
        if each["worked"] not in ("yes", "no"):
            raise NotUnderstood(f"'{each['worked']}' does not say whether it worked.", "Write yes or no.")
    return tuple((str(each["remedy"]), each["worked"] == "yes") for each in written)
