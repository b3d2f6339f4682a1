"""``diagnose run``: answer a call from a file and say what follows. Also the form of such files."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import msgspec

from diagnose.knowledge.files import file_text
from diagnose.knowledge.fitting import misfits
from diagnose.knowledge.marked_yaml import Marked, read_marked
from diagnose.knowledge.model import UNLISTED, Trees, as_facts
from diagnose.knowledge.problems import Place, Problems, TreeError, did_you_mean
from diagnose.knowledge.words import about, percent, roughly

if TYPE_CHECKING:
    from diagnose.calls.call import Call
    from diagnose.cli import Session

_KEYS = ("door", "symptoms", "people", "answers", "tried", "cause")
_MOST_SHOWN = 5


class CallFile(msgspec.Struct, frozen=True, kw_only=True):
    """What a call file says: ``answers`` maps checks to what is typed, a repeated reading several times."""

    file: str
    facts: dict[str, str | tuple[str, ...]] = {}
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


@click.command(short_help="Answer calls from files.")
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
    from diagnose.calls.call import Call

    call = Call(trees, asked.facts, asked.symptoms, people=asked.people)
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
    from diagnose.calls.words import step_title

    call = outcome.call
    step, surprise = call.next_step(), call.surprise()
    data: dict[str, Any] = {
        "file": outcome.asked.file,
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
    from diagnose.calls.likely import NOTHING_FITS
    from diagnose.calls.words import absent_from, step_title

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
        lines.append(f"{outcome.asked.file}: {percent(first.probability)} {first.title}.{said}")
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
    name = str(path)
    text = file_text(path, name, problems, "Look at its name.", "file")
    marked = read_marked(text, name, problems) if text is not None else None
    return _Reader(marked, name, trees, problems).read() if marked is not None else None


class _Reader:
    """Reads one call file; every fault goes to ``problems`` at its line."""

    def __init__(self, marked: Marked, name: str, trees: Trees, problems: Problems) -> None:
        self._marked = marked
        self._name = name
        self._trees = trees
        self._problems = problems

    def read(self) -> CallFile | None:
        written = self._marked.value
        if not isinstance(written, Mapping):
            self._fault((), "A call file is a list of 'key: value'.", f"Known: {', '.join(_KEYS)}.")
            return None
        before = len(self._problems)
        for key in written:
            self._known((key,), key, "is no key of a call file", _KEYS)
        symptoms = self._names("symptoms", self._trees.symptoms)
        if not symptoms and not written.get("symptoms"):
            self._fault((), "No complaint is stated.", "Write 'symptoms: [symptom-id]'.")
        call = CallFile(
            file=self._name,
            facts=self._facts(),
            symptoms=symptoms,
            people=self._names("people", self._trees.people) or CallFile(file="").people,
            answers=self._answers(),
            tried=self._tried(),
            cause=self._cause(),
        )
        return call if len(self._problems) == before else None

    def _facts(self) -> dict[str, str | tuple[str, ...]]:
        written = self._part("door", Mapping, "Write 'door: {fact: value}'.")
        facts = as_facts(dict(written or {}))
        for fact, value in facts.items():
            if self._known(("door", fact), fact, "is no fact", self._trees.facts):
                entry, values = self._trees.facts[fact], (value,) if isinstance(value, str) else value
                for each in values:
                    self._known(("door", fact), str(each), f"is no answer to '{fact}'", entry.answers)
                facts[fact] = values if entry.many == "yes" else value
        for fact, wrong, mend in misfits(self._trees.facts, facts):
            self._fault(("door", fact), wrong, mend)
        return facts

    def _answers(self) -> dict[str, tuple[str, ...]]:
        from diagnose.calls.answering import AnswerError, understand

        written = self._part("answers", Mapping, "Write 'answers: {check: what was found}'.")
        answers: dict[str, tuple[str, ...]] = {}
        for check, value in (written or {}).items():
            if not self._known(("answers", check), check, "is no check", self._trees.checks):
                continue
            known = self._trees.checks[check]
            texts = tuple(str(each) for each in value) if isinstance(value, list) else (str(value),)
            if known.series == "yes":
                texts = ("; ".join(texts),)
            for text in texts:
                try:
                    understand(known, text)
                except AnswerError as error:
                    self._fault(("answers", check), str(error), "")
            answers[check] = texts
        return answers

    def _tried(self) -> tuple[tuple[str, bool], ...]:
        written = self._part("tried", list, "Write 'tried: [{remedy: remedy-id, worked: no}]'.")
        tried = []
        for index, each in enumerate(written or []):
            path = ("tried", index)
            if not isinstance(each, Mapping) or set(each) != {"remedy", "worked"}:
                self._fault(path, "A repair tried has 'remedy' and 'worked'.", "Write {remedy: remedy-id, worked: no}.")
                continue
            remedy, worked = str(each["remedy"]), each["worked"]
            self._known(path, remedy, "is no repair", self._trees.remedies)
            if worked not in ("yes", "no"):
                self._fault(path, f"'{worked}' does not say whether it worked.", "Write yes or no.")
            tried.append((remedy, worked == "yes"))
        return tuple(tried)

    def _cause(self) -> str:
        if self._marked.value.get("cause") is None:
            return ""
        written = str(self._marked.value["cause"])
        if written != UNLISTED:
            self._known(("cause",), written, "is no cause", self._trees.causes)
        return written

    def _names(self, key: str, known: Mapping[str, Any]) -> tuple[str, ...]:
        written = self._marked.value.get(key)
        if written is not None and not isinstance(written, (str, list)):
            self._fault((key,), f"'{key}' is a list of names.", f"Write '{key}: [id]'.")
            return ()
        named = [written] if isinstance(written, str) else [str(each) for each in written or []]
        for index, each in enumerate(named):
            self._known((key, index), each, f"is not among the {key}", known)
        return tuple(named)

    def _part(self, key: str, kind: type, mend: str) -> Any:
        written = self._marked.value.get(key)
        if written is not None and not isinstance(written, kind):
            self._fault((key,), f"'{key}' cannot be read.", mend)
            return None
        return written

    def _known(self, path: tuple[str | int, ...], name: str, wrong: str, among: Collection[str]) -> bool:
        if name not in among:
            self._fault(path, f"'{name}' {wrong}.", did_you_mean(name, among))
        return name in among

    def _fault(self, path: tuple[str | int, ...], wrong: str, mend: str) -> None:
        self._problems.error(self._marked.place(*path), wrong, mend, "call-file")
