"""``diagnose screen``: many calls at once, from another system's file."""

from __future__ import annotations

from typing import Any

import click
import msgspec

from diagnose.calls.words import minutes
from diagnose.cli import Session
from diagnose.commands.console import plain
from diagnose.commands.given import known, read_text
from diagnose.knowledge.problems import Problems
from diagnose.screening.batch import read_rows, screen_row
from diagnose.screening.needs import first_van
from diagnose.screening.paper import how_likely


@click.command()
@click.argument("file", metavar="CALLS")
@click.option("--json", "as_json", is_flag=True, help="Print for a program to read, a line each.")
@click.option("--van", default="", metavar="NAME", help="Which van goes, by its id in the trees.")
@click.pass_obj
def screen(session: Session, file: str, as_json: bool, van: str) -> int:
    """Screen the calls of a CSV or JSON file: danger, urgency, crew, parts, minutes and likely causes of each.

    \b
    Columns, in any order; what is empty is not known:
      call        the other system's own number
      site, door  where it is
      symptom     what is complained of, by id; several parted by ;
      text        ... or the caller's own words
      facts       as in drive=trolley; devices=photo-eye,timer
      answers     as in springs-look=gap in a coil; weather=hard wind
      dangers     as in burning=yes; person-hurt=no
    A column may also be named by a fact, check or danger and hold its answer. '-' reads from the standard input.

    JSON is a list of such calls, with the same names; 'diagnose schema request' has its form, and 'diagnose schema
    sheet' that of the sheets which --json gives back.

    Lines that cannot be screened are named with what to mend, and the others are screened all the same: the exit code
    is 1 then, and 2 where the whole file cannot be read.

    \b
    Examples:
      diagnose screen calls.csv
      diagnose screen calls.csv --json > sheets.jsonl
      diagnose screen requests.json --json
    """
    trees = session.trees
    known("van of these trees", [van] if van else [], trees.vans)
    problems = Problems()
    rows = read_rows(read_text(file), file, trees, problems)
    for problem in problems:
        click.echo(str(problem), err=True)
    for row in rows:
        found = screen_row(trees, row, first_van(trees, van))
        click.echo(msgspec.json.encode(found).decode() if as_json else _in_words(found))
    if not rows:
        return 2 if problems.errors else 0
    return 1 if problems.errors else 0


def _in_words(found: dict[str, Any]) -> str:
    """One call in a few lines, the urgency first."""
    where = ", ".join(filter(None, (found["call"], found["site"], found["door"]))) or f"line {found['line']}"
    taken = found["minutes"]
    parts = ", ".join(f"{each['count']} × {each['title']}" for each in found["parts"]) or "none"
    likely = "; ".join(f"{how_likely(each['probability']).lower()}, {each['title']}" for each in found["likely"][:3])
    crew = ", ".join(each["title"] for each in (*found["crew"]["send"], *found["crew"]["at_site"]))
    lines = [
        f"{where}: {found['urgency']['level'].upper()}. {'; '.join(found['urgency']['reasons'])}",
        *(f"  {each['title']}: {each['instruction']}" for each in found["danger"]),
        f"  send {crew}; work from {', '.join(each['title'] for each in found['work_from']) or 'the floor'}",
        f"  about {minutes(taken['median'])}, 8 in 10 within {minutes(taken['eight_in_ten_within'])}",
        f"  load: {parts}",
        f"  likely: {likely}",
    ]
    if found["matched"] and not found["matched"]["sure"]:
        others = "; ".join(each["title"] for each in found["matched"]["others"])
        lines.append(f"  the words may also mean: {others or 'something else'}")
    return "\n".join(plain(line) for line in lines)
