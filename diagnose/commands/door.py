"""``diagnose door``: what is known of a door between its calls."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import click
import msgspec
from msgspec.structs import replace

from diagnose.calls.call import Call
from diagnose.calls.doors import MOST_FOUND, DoorRecord, Doors, Revision, changed, facts_known
from diagnose.calls.doors import without_names as stripped
from diagnose.calls.state import fold
from diagnose.cli import Session
from diagnose.commands.ask import stated_facts
from diagnose.commands.console import Console, plain, say_all
from diagnose.commands.given import pairs, write
from diagnose.knowledge.fitting import laid_over
from diagnose.knowledge.words import local_day
from diagnose.sitting.door_record import door_lines, keep_new, kept_in_words, place_of, with_history

_NO_PAIR = "says nothing by a name. Write it like weight=450 lb."


@click.group()
def door() -> None:
    """Keep what is known of a door, and find it again.

    A call on a known door starts with its facts. DOOR is an id, or letters of the site and the name. A pass-phrase is
    never kept.

    \b
    Examples:
      diagnose door add --site "Alder Works" --name "Dock 3" --fact drive=trolley --data "weight=450 lb"
      diagnose door list alder
      diagnose door show "dock 3"
      diagnose door change "dock 3" --data "springs=2, 2.25 in" --network "channel=6"
      diagnose door from-call last
      diagnose door export "dock 3" --out door.json
    """


def _said(command: Callable[..., Any]) -> Callable[..., Any]:
    for option in (
        click.option("--by", default=None, help="Who says so; kept with the record."),
        click.option("--note", "notes", multiple=True, metavar="TEXT", help="A sentence; repeat for each."),
        click.option("--photograph", "photographs", multiple=True, metavar="PATH", help="Where one is; repeat."),
        click.option("--network", multiple=True, metavar="NAME=VALUE", help="Of the site's network; no pass-phrase."),
        click.option("--data", multiple=True, metavar="NAME=VALUE", help="A figure of the door; empty forgets it."),
        click.option("--fact", "facts", multiple=True, metavar="FACT=VALUE", help="A fact; empty forgets it."),
    ):
        command = option(command)
    return command


@door.command()
@click.option("--site", default="", help="Where the door is.")
@click.option("--name", default="", help="What it is called there.")
@_said
@click.pass_obj
def add(session: Session, /, site: str, name: str, **said: Any) -> int:
    """Keep a door that is not known yet.

    \b
    Example:
      diagnose door add --site "Alder Works" --name "Dock 3" --fact drive=trolley
    """
    record = _with(session, DoorRecord(site=site, name=name), said)
    return _told(keep_new(session.trees, _doors(session), record, _by(session, said["by"])))


@door.command()
@click.argument("door")
@click.option("--site", default=None, help="Where the door is, where it was kept wrong.")
@click.option("--name", default=None, help="What it is called, where that has changed.")
@_said
@click.pass_obj
def change(session: Session, /, door: str, site: str | None, name: str | None, **said: Any) -> int:
    """Say more of a door, or correct it; what was known before stays on record.

    \b
    Example:
      diagnose door change "dock 3" --data "weight=450 lb"
    """
    doors = _doors(session)
    known = doors.one(door)
    site = known.record.site if site is None else site
    name = known.record.name if name is None else name
    record = _with(session, replace(known.record, site=site, name=name), said)
    return _told(doors.keep(record, _by(session, said["by"]), known.door_id))


@door.command("list")
@click.argument("letters", nargs=-1)
@click.option("--json", "as_json", is_flag=True, help="Print for a program to read, a line each.")
@click.pass_obj
def list_(session: Session, letters: tuple[str, ...], as_json: bool) -> int:
    """List doors whose site or name has all LETTERS in it. Exit code 1 says that there is none.

    \b
    Example:
      diagnose door list ald do
    """
    found = _doors(session).search(" ".join(letters), MOST_FOUND + 1)
    for each in found[:MOST_FOUND]:
        line = f"{each.id}  {local_day(each.updated_at)}  {place_of(each.site, each.name)}"
        click.echo(msgspec.json.encode(each).decode() if as_json else plain(line))
    if not found:
        click.echo("No door is kept that fits.", err=True)
    elif len(found) > MOST_FOUND:
        click.echo(f"Those are the first {MOST_FOUND}. Type more letters.", err=True)
    return 0 if found else 1


@door.command()
@click.argument("door")
@click.option("--all", "every", is_flag=True, help="Every record of the door, the first one first.")
@click.pass_obj
def show(session: Session, door: str, every: bool) -> None:
    """Show what is known of a door, what wears or fades at it and when that is due, and its calls.

    \b
    Example:
      diagnose door show "dock 3"
    """
    doors, console = _doors(session), Console()
    known = doors.one(door)
    for revision in doors.revisions(known.door_id)[:-1] if every else []:
        say_all(console, door_lines(session.trees, revision))
    say_all(console, with_history(session.trees, doors, known, datetime.now(UTC), session.settings.units))


@door.command("from-call")
@click.argument("call")
@click.option("--by", default=None, help="Who says so; kept with the record.")
@click.pass_obj
def from_call(session: Session, call: str, by: str | None) -> int:
    """Keep what CALL says of its door, beside what was known of it.

    \b
    Example:
      diagnose door from-call last
    """
    doors = _doors(session)
    return _told(doors.keep_from(fold(doors.events(doors.find(call))), _by(session, by)))


@door.command()
@click.argument("door")
@click.option("--out", default="-", metavar="FILE", help="Where to; - is the screen.")
@click.option("--without-names", is_flag=True, help="Leave out places, names, notes, photographs and the network.")
@click.pass_obj
def export(session: Session, door: str, out: str, without_names: bool) -> None:
    """Write a door's latest record as JSON.

    \b
    Example:
      diagnose door export "dock 3" --without-names
    """
    record = _doors(session).one(door).record
    body = msgspec.json.format(msgspec.json.encode(stripped(record) if without_names else record), indent=2)
    write(out, body.decode() + "\n")


def _doors(session: Session) -> Doors:
    return Doors.of(session.store)


def _by(session: Session, by: str | None) -> str:
    return session.settings.by if by is None else by


def _with(session: Session, record: DoorRecord, said: dict[str, Any]) -> DoorRecord:
    """A record, and what was said more of its door."""
    facts = stated_facts(said["facts"], session.trees)
    # What the trees do not know, or does not go with what is known, is refused before it is kept.
    said_now = {fact: value for fact, value in facts.items() if value}
    Call(session.trees, laid_over(session.trees.facts, facts_known(session.trees, record), said_now))
    return changed(
        record,
        facts={fact: value or "" for fact, value in facts.items()},
        data=dict(pairs(said["data"], _NO_PAIR)),
        network=dict(pairs(said["network"], _NO_PAIR)),
        photographs=said["photographs"],
        notes=said["notes"],
    )


def _told(revision: Revision) -> int:
    click.echo(plain(kept_in_words(revision)))
    return 0
