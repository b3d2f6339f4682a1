"""``diagnose commission``: a door put up, or looked over, step by step, each step proved."""

from __future__ import annotations

import click
from msgspec.structs import replace

from diagnose.cli import Session
from diagnose.commands.console import Console, plain
from diagnose.commands.given import known, on_a_terminal, people_in
from diagnose.knowledge.model import Trees, applies
from diagnose.knowledge.words import minutes


@click.command()
@click.argument("walk", required=False, default="")
@click.option("--plain", is_flag=True, help="Line by line, without a screen.")
@click.option("--list", "listed", is_flag=True, help="Print the jobs of the walk for this door, and stop.")
@click.option("--fact", "facts", multiple=True, metavar="FACT=VALUE", help="Known of the door; repeat for each.")
@click.option("--call", "call_id", default="", metavar="CALL", help="Go on with this walk; 'last' is the last begun.")
@click.option("--site", default="", help="Where the door is.")
@click.option("--door", default="", help="Which door it is.")
@click.option("--by", default=None, help="Who does it; kept with every entry.")
@click.option("--people", default=None, help="Who is at the door, parted by commas.")
@click.option("--width", type=click.IntRange(20, 200), default=None, help="Columns to wrap at.")
@click.pass_obj
def commission(
    session: Session,
    walk: str,
    plain: bool,
    listed: bool,
    facts: tuple[str, ...],
    call_id: str,
    site: str,
    door: str,
    by: str | None,
    people: str | None,
    width: int | None,
) -> int:
    """Go a walk: every job of putting a door up, or of looking it over, in order, read, done and proved.

    WALK is an id of the trees; by default their first. It can be left at any step and gone on with, for days and by
    several people. A job that is not right opens a complaint, and the walk goes on when that is gone. The door is
    handed over when every job is done and every proof has passed.

    \b
    Examples:
      diagnose commission
      diagnose commission yearly-service --site "Alder Works" --door "Dock 3"
      diagnose commission --plain --fact drive=trolley --people technician,electrician
      diagnose commission --list
    """
    from diagnose.commands.ask import begun, gone_on_with, hold, stated_facts

    trees = session.trees
    walk = _known(trees, walk)
    stated = stated_facts(facts, trees)
    if listed:
        click.echo("\n".join(_listed(trees, walk, stated)))
        return 0
    here = people_in(people, session.settings.people)
    by = session.settings.by if by is None else by
    kept = session.store.find(call_id) if call_id else ""
    if not plain and on_a_terminal():
        from diagnose.tui.desk import Stated

        asked = kept or Stated(facts=stated, site=site, door=door, walk=walk)
        session.open_screens(replace(session.settings, by=by, people=here), asked=asked)
        return 0
    from diagnose.sitting.cautions import FIRST, REST

    console = Console(width or 0)
    console.say(f"{FIRST} {REST}")
    if kept:
        call = gone_on_with(session, kept, by, stated, site, door, here if people is not None else ())
    else:
        call, kept = begun(session, console, stated, site, door, people=here, walk=walk, by=by)
    return hold(session, console, call, kept)


def _known(trees: Trees, walk: str) -> str:
    """The walk that is meant. Raises ``click.UsageError``."""
    if not trees.walks:
        raise click.UsageError("These trees have no walks. Write them under 'walks:', as the guide in trees/ says.")
    known("walk of these trees", [walk] if walk else [], trees.walks)
    return walk or next(iter(trees.walks))


def _listed(trees: Trees, walk: str, facts: dict[str, str | tuple[str, ...]]) -> list[str]:
    """The jobs of a walk that a door with these facts has, by stage."""
    entry, lines, number = trees.walks[walk], [], 0
    lines.append(plain(entry.title))
    for stage in entry.stages.values():
        lines += ["", plain(stage.title)]
        for job in (trees.jobs[name] for name in stage.jobs):
            if applies(job.applies, facts):
                number += 1
                who = "" if job.who == "anyone" else f", {trees.people[job.who].title}"
                lines.append(plain(f"{number:>4}. {job.title} ({minutes(job.minutes)}{who})"))
    return lines
