"""Many calls at once, from another system's CSV or JSON: each row a call, every fault of the file at its line.

JSON is a list of ``Request``. Columns of CSV, in any order: ``call`` (the other system's own number), ``site``,
``door``, ``symptom`` (ids, parted by ``;``), ``text`` (the caller's own words), ``facts`` (``drive=trolley;
devices=photo-eye,timer``), ``answers`` (``eye-lamp-receiver=dark``) and ``dangers`` (``burning=yes``). A column may
also be named by a fact, a check or a danger, and then holds its answer. What is left empty is not known.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import msgspec

from diagnose.calls.answering import AnswerError
from diagnose.calls.call import Call
from diagnose.finding.complaints import Match, both_meant, in_their_words, match, plain_match
from diagnose.knowledge.fitting import misfits
from diagnose.knowledge.model import Trees, Van
from diagnose.knowledge.problems import Place, Problems, did_you_mean
from diagnose.screening.danger import by_words, note_dangers
from diagnose.screening.interview import next_question
from diagnose.screening.paper import sheet_data
from diagnose.screening.sheet import make_sheet
from diagnose.screening.spoken import Spoken

PLAIN_COLUMNS = ("call", "site", "door", "symptom", "text", "facts", "answers", "dangers")
_MOST_OTHERS = 3
_MOST_CHARACTERS = 5_000_000
_YES_NO = ("yes", "no")


class Request(msgspec.Struct, forbid_unknown_fields=True, omit_defaults=True):
    """A call to be screened. ``symptom`` are ids, ``text`` the caller's own words, and one of them is needed.

    ``facts``, ``answers`` (a choice, or a number with its unit) and ``dangers`` (yes, no or could not tell) are by id.
    ``call`` is the other system's own number. What is left out is not known.
    """

    call: str = ""
    site: str = ""
    door: str = ""
    symptom: tuple[str, ...] = ()
    text: str = ""
    facts: dict[str, str | tuple[str, ...]] = {}
    answers: dict[str, str] = {}
    dangers: dict[str, Literal["yes", "no", "could not tell"]] = {}


@dataclass
class Row:
    """One call as the file gives it. ``matches`` are what its words may mean, where no symptom is named."""

    line: int
    columns: dict[str, str]
    symptoms: tuple[str, ...] = ()
    facts: dict[str, str | tuple[str, ...]] = field(default_factory=dict)
    answers: dict[str, str] = field(default_factory=dict)
    dangers: dict[str, str] = field(default_factory=dict)
    matches: list[Match] = field(default_factory=list)

    def __getitem__(self, column: str) -> str:
        return self.columns.get(column, "")


def read_rows(text: str, name: str, trees: Trees, problems: Problems) -> list[Row]:
    """The sound rows of a file called ``name``, JSON or CSV; every fault goes to ``problems`` at its line."""
    if len(text) > _MOST_CHARACTERS:
        problems.error(
            Place(name, 1), "This file is too long.", f"Split it below {_MOST_CHARACTERS} characters.", "csv"
        )
        return []
    if text.removeprefix("\ufeff").lstrip()[:1] in ("[", "{"):
        return _read_requests(text.removeprefix("\ufeff"), name, trees, problems)
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline=""), delimiter=_separator(text), strict=True)
    rows: list[Row] = []
    header: list[str] = []
    line = 1
    try:
        for cells in reader:
            start, line = line, reader.line_num + 1
            if not any(cell.strip() for cell in cells):
                continue
            if not header:
                header = [cell.strip() for cell in cells]
                if not _sound_header(header, Place(name, start), trees, problems):
                    return []
                continue
            before = len(problems)
            row = _read_row(cells, header, Place(name, start), trees, problems)
            if len(problems) == before:
                rows.append(row)
    except csv.Error as error:
        problems.error(Place(name, line), f"This is no CSV: {error}.", "Save it as CSV with one header line.", "csv")
    if not header and not problems.errors:
        problems.error(Place(name, 1), "This file is empty.", "Write a header line and a line for each call.", "csv")
    return rows


def _read_requests(text: str, name: str, trees: Trees, problems: Problems) -> list[Row]:
    try:
        written = msgspec.json.decode(text, type=list[msgspec.Raw])
    except (msgspec.DecodeError, RecursionError) as error:
        at = re.search(r"byte (\d+)", str(error))
        line = text.encode()[: int(at[1])].count(b"\n") + 1 if at else 1
        wrong = f"This is no list of calls in JSON: {error}."
        problems.error(Place(name, line), wrong, 'Write a list, as in [{"symptom": ["…"]}].', "json")
        return []
    rows: list[Row] = []
    data, at_byte, line = text.encode(), 0, 1
    for raw in written:
        found = data.index(bytes(raw), at_byte)
        line += data.count(b"\n", at_byte, found)
        at_byte = found
        place, before = Place(name, line), len(problems)
        try:
            request = msgspec.json.decode(raw, type=Request)
        except (msgspec.DecodeError, RecursionError) as error:
            problems.error(place, f"{error}.", "See 'diagnose schema request'.", "json")
            continue
        row = _of_request(request, place, trees, problems)
        if len(problems) == before:
            rows.append(row)
    return rows


def _of_request(request: Request, place: Place, trees: Trees, problems: Problems) -> Row:
    plain = {"call": request.call, "site": request.site, "door": request.door, "text": request.text}
    stripped = {column: said.strip() for column, said in plain.items()}
    row = Row(place.line, {**stripped, "symptom": ";".join(request.symptom)})
    for known, said in (
        (trees.facts, request.facts),
        (trees.checks, request.answers),
        (trees.dangers, request.dangers),
    ):
        for key, value in said.items():
            if key not in known:
                problems.error(place, f"'{key}' is not known there.", did_you_mean(key, known), "json")
            else:
                _read_pair(row, key, value if isinstance(value, str) else ",".join(value), place, trees, problems)
    _read_whole(row, place, trees, problems)
    return row


def screen_row(trees: Trees, row: Row, van: Van) -> dict[str, Any]:
    """What follows from one row, as plain data."""
    call = Call(trees, row.facts, row.symptoms, site=row["site"], door=row["door"])
    for danger, answer in row.dangers.items():
        call.danger(danger, answer)
    if row["text"]:
        call.note(row["text"])
    for check, answer in row.answers.items():
        call.answer(check, answer, heard="told")
    note_dangers(call)
    question = next_question(call, van)
    return {
        "line": row.line,
        "call": row["call"],
        "site": row["site"],
        "door": row["door"],
        "symptoms": list(row.symptoms),
        "matched": _matched(row),
        **sheet_data(call, make_sheet(call, van)),
        # What would be worth asking, had one the caller on the phone.
        "ask_next": {"id": question.id, "ask": Spoken(trees).question(question)} if question else None,
    }


def _matched(row: Row) -> dict[str, Any] | None:
    """How the complaint was found in the caller's words; ``None`` where it was named."""
    if not row.matches:
        return None
    others = [each for each in row.matches if each.symptom.id not in row.symptoms][:_MOST_OTHERS]
    return {
        "sure": plain_match(row.matches) is not None or bool(both_meant(row.matches)),
        "others": [{"symptom": each.symptom.id, "title": each.symptom.title} for each in others],
    }


def _separator(text: str) -> str:
    """The comma, or what a spreadsheet of another country wrote in its place."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    return max((",", ";", "\t"), key=first.count)


def _sound_header(header: list[str], place: Place, trees: Trees, problems: Problems) -> bool:
    known = {*PLAIN_COLUMNS, *trees.facts, *trees.checks, *trees.dangers}
    before = len(problems)
    for column in header:
        if column not in known:
            near = did_you_mean(column, sorted(known))
            mend = (
                near
                if near.startswith("Did")
                else f"Known: {', '.join(PLAIN_COLUMNS)}, or the id of a fact, check or danger."
            )
            problems.error(place, f"'{column}' is no column.", mend, "csv")
        elif header.count(column) > 1:
            problems.error(place, f"'{column}' stands twice in the header.", "Keep one of the two.", "csv")
    if not {"symptom", "text"} & set(header):
        problems.error(place, "No column says what is wrong.", "Add 'symptom' or 'text'.", "csv")
    return len(problems) == before


def _read_row(cells: list[str], header: list[str], place: Place, trees: Trees, problems: Problems) -> Row:
    columns = {column: cell.strip() for column, cell in zip(header, cells, strict=False)}
    row = Row(place.line, columns)
    if len(cells) > len(header):
        wrong = f"This line has {len(cells)} cells, and the header {len(header)}."
        problems.error(place, wrong, "Put text that holds the separator in quotes.", "csv")
        return row
    written = [*_pairs(row["facts"], place, problems), *_pairs(row["answers"], place, problems)]
    written += _pairs(row["dangers"], place, problems)
    written += [(column, cell) for column, cell in columns.items() if column not in PLAIN_COLUMNS and cell]
    for key, value in written:
        _read_pair(row, key, value, place, trees, problems)
    _read_whole(row, place, trees, problems)
    return row


def _pairs(text: str, place: Place, problems: Problems) -> list[tuple[str, str]]:
    """``drive=trolley; devices=photo-eye,timer`` as pairs."""
    pairs = []
    for part in filter(None, (part.strip() for part in text.split(";"))):
        key, separator, value = part.partition("=")
        if separator and key.strip() and value.strip():
            pairs.append((key.strip(), value.strip()))
        else:
            problems.error(place, f"'{part}' says nothing of anything.", "Write it like drive=trolley.", "csv")
    return pairs


def _read_pair(row: Row, key: str, value: str, place: Place, trees: Trees, problems: Problems) -> None:
    if key in trees.facts:
        fact = trees.facts[key]
        values = [fact.meant(part.strip()) for part in (value.split(",") if fact.many == "yes" else [value])]
        for each in values:
            if each not in fact.answers:
                problems.error(place, f"'{each}' is no answer to '{key}'.", did_you_mean(each, fact.answers), "csv")
        row.facts[key] = tuple(values) if fact.many == "yes" else values[0]
    elif key in trees.checks:
        from diagnose.calls.answering import understand

        try:
            understand(trees.checks[key], value)
        except AnswerError as error:
            problems.error(place, f"{key}: {error}", "", "csv")
        row.answers[key] = value
    elif key in trees.dangers:
        answer = value.casefold()
        if answer not in (*_YES_NO, "could not tell"):
            problems.error(place, f"'{value}' does not say whether '{key}' is so.", "Write yes or no.", "csv")
        row.dangers[key] = answer
    else:
        known: Mapping[str, object] = {**trees.facts, **trees.checks, **trees.dangers}
        problems.error(place, f"'{key}' is no fact, check or danger.", did_you_mean(key, known), "csv")


def _read_whole(row: Row, place: Place, trees: Trees, problems: Problems) -> None:
    """What is judged of a row when all of it is read: whether its facts go together, and its complaint."""
    for _, wrong, mend in misfits(trees.facts, row.facts):
        problems.error(place, wrong, mend, "together")
    _read_complaint(row, place, trees, problems)


def _read_complaint(row: Row, place: Place, trees: Trees, problems: Problems) -> None:
    named = tuple(dict.fromkeys(part.strip() for part in row["symptom"].split(";") if part.strip()))
    for symptom in named:
        if symptom not in trees.symptoms:
            near = match(trees, symptom.replace("-", " "))[:1]
            mend = did_you_mean(symptom, [*trees.symptoms, *(each.symptom.id for each in near)])
            problems.error(place, f"'{symptom}' is no symptom.", mend, "csv")
    if named:
        row.symptoms = named
        return
    row.matches = match(trees, row["text"])
    # Where the words are not plain, a danger that is heard in them says which complaint is meant.
    dangerous = [symptom for each in by_words(trees, row["text"]) for symptom in each.danger.symptoms]
    meant = [each.symptom.id for each in row.matches if each.symptom.id in dangerous] or dangerous
    both = tuple(symptom.id for symptom in both_meant(row.matches))
    plain = plain_match(row.matches) is not None and in_their_words(trees, row["text"])
    if meant and not plain and not both:
        row.symptoms = (meant[0],)
        row.matches = row.matches or [Match(trees.symptoms[meant[0]], 0.0)]
    elif row.matches:
        row.symptoms = both or (row.matches[0].symptom.id,)
    elif row["text"]:
        problems.error(place, "No complaint is like these words.", "Name one in 'symptom'.", "csv")
    else:
        problems.error(place, "This call says nothing of what is wrong.", "Fill in 'symptom' or 'text'.", "csv")
