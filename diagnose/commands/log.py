"""``diagnose log``: the calls on record, and one call's entries."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import click
import msgspec

from diagnose.calls.call import Call
from diagnose.calls.doors import forget, to_forget
from diagnose.calls.exchange import export_call, import_call, read_copy
from diagnose.calls.store import CallSummary, encode, sorted_calls
from diagnose.calls.verdict import leading_cause
from diagnose.calls.words import event_in_words, remarks_on, title
from diagnose.cli import Session
from diagnose.commands.call import end_kept
from diagnose.commands.console import plain
from diagnose.commands.given import read_text, wanting, write
from diagnose.commands.progress import progress
from diagnose.knowledge.words import local_time
from diagnose.sitting.view import not_known

_NO_CALENDAR = "Calendars need the Python package 'icalendar': pip install 'diagnose[calendar]'."
# A call that ended longer ago was taken off every calendar that is kept up.
_ENDED_DAYS = 30


@click.command()
@click.argument("call", required=False)
@click.option("--where", is_flag=True, help="Print only where the calls are kept.")
@click.option("--site", default="", help="Calls whose site has this in it.")
@click.option("--door", default="", help="Calls whose door has this in it.")
@click.option("--since", type=click.DateTime(["%Y-%m-%d"]), metavar="DAY", help="Opened on this day or later.")
@click.option("--until", type=click.DateTime(["%Y-%m-%d"]), metavar="DAY", help="Opened on this day or earlier.")
@click.option("--cause", default="", help="Calls whose cause's id has this in it.")
@click.option("--open", "open_only", is_flag=True, help="Calls that are not closed.")
@click.option("--state", type=click.Choice(["open", "waiting", "closed"]), help="Calls in this state alone.")
@click.option(
    "--sort",
    type=click.Choice(["latest", "site", "state", "complaint"]),
    help="In which order; as they were opened, where it is not said.",
)
@click.option("--json", "as_json", is_flag=True, help="Print for a program to read, a line each.")
@click.option("--end", "end_reason", metavar="REASON", help="End CALL, which nobody goes on with, for this reason.")
@click.option("--export", "export_file", metavar="FILE", help="Write CALL as one file, safe to mail; - is the screen.")
@click.option("--import", "import_file", metavar="FILE", help="Bring in an exported call, or what of it is new here.")
@click.option("--calendar", "calendar_file", metavar="FILE", help="Write visits and waiting calls as an .ics file.")
@click.option("--without-names", is_flag=True, help="Exported: not who or where, nor words typed freely.")
@click.option("--forget", "forgetting", is_flag=True, help="Take out for good what is older than --days; it asks.")
@click.option("--days", type=click.IntRange(1, 36_500), help="With --forget; otherwise the setting keep-days.")
@click.option("--yes", is_flag=True, help="With --forget: do not ask.")
@click.pass_obj
def log(
    session: Session,
    call: str | None,
    where: bool,
    site: str,
    door: str,
    since: datetime | None,
    until: datetime | None,
    cause: str,
    open_only: bool,
    state: str | None,
    sort: str | None,
    as_json: bool,
    end_reason: str | None,
    export_file: str | None,
    import_file: str | None,
    calendar_file: str | None,
    without_names: bool,
    forgetting: bool,
    days: int | None,
    yes: bool,
) -> int:
    """List the calls on record, or every entry of one CALL.

    --calendar writes an entry for each call that is not closed: when to look again, who comes when, or by when the
    visit is due. A calendar that reads it again changes its own; what ended within the last 30 days is cancelled there.

    Exit code 1 says that no call fits what was asked for.

    \b
    Examples:
      diagnose log --open
      diagnose log --state waiting --sort site
      diagnose log --site harbour --since 2026-11-01 --cause eye
      diagnose log k7qd
      diagnose log k7qd --end "the caller rang off"
      diagnose log k7qd --export call.json
      diagnose log k7qd --export call.json --without-names
      diagnose log --import call.json
      diagnose log --state waiting --calendar visits.ics
      diagnose log --forget --days 1100
      diagnose log --where
    """
    store = session.store
    if where:
        click.echo(store.where)
        return 0
    if import_file:
        return _import(session, import_file)
    if forgetting:
        return _forget(session, days or session.settings.keep_days, yes)
    if end_reason is not None:
        if not call:
            raise click.UsageError('Say which call ends, as in: diagnose log k7qd --end "the caller rang off"')
        kept = store.find(call)
        click.echo(f"{kept}: {end_kept(session, kept, session.settings.by, end_reason)}")
        return 0
    if call:
        return _one(session, store.find(call), as_json, export_file, without_names)
    if without_names and not (export_file or calendar_file):
        raise click.UsageError("--without-names goes with --export, as in: diagnose log last --export call.json")
    if export_file:
        raise click.UsageError("Say which call to export, as in: diagnose log last --export call.json")
    calls = store.calls(
        site=site,
        door=door,
        since=_day(since),
        until=_day(until),
        cause=cause,
        open_only=open_only,
        leading=leading_cause(session.trees),
    )
    calls = [each for each in calls if state in (None, each.state)]
    if calendar_file:
        return _calendar(session, calls, calendar_file, without_names)
    if sort:
        calls = sorted_calls(calls, sort)
    if as_json:
        for each in calls:
            click.echo(msgspec.json.encode(each).decode())
    else:
        for each in calls:
            click.echo(_line(session, each))
        if not calls:
            click.echo("No call is on record that fits.", err=True)
    return 0 if calls else 1


def _day(moment: datetime | None) -> date | None:
    return moment.date() if moment else None


def _line(session: Session, call: CallSummary) -> str:
    if call.trouble:
        return f"{call.id}  {plain(call.trouble)}"
    opened = local_time(call.opened_at)
    cause = "something not in the book" if call.likely_cause == "unlisted" else ""
    cause = cause or (title(session.trees, "causes", call.likely_cause) if call.likely_cause else "")
    symptoms = "; ".join(title(session.trees, "symptoms", symptom) for symptom in call.symptoms)
    parts = [call.outcome or call.waiting or "open", call.site, call.door, symptoms, f"cause: {cause}" if cause else ""]
    return plain(f"{call.id}  {opened}  " + ", ".join(part for part in parts if part))


def _calendar(session: Session, calls: list[CallSummary], file: str, without_names: bool) -> int:
    with wanting(_NO_CALENDAR):
        from diagnose.screening.calendar import Waiting, calendar
    now = datetime.now().astimezone()
    ended_since = (now - timedelta(days=_ENDED_DAYS)).astimezone(UTC).isoformat()
    wanted = [each for each in calls if not each.trouble and (each.is_open or each.last_at >= ended_since)]
    waiting = []
    with progress("Calendar", len(wanted), kept="Nothing was written.") as show:
        for number, each in enumerate(wanted):
            show(each.id, number)
            events = session.store.events(each.id)
            waiting.append(
                Waiting(each.id, each.opened_at, each.last_at, len(events), events if each.is_open else None)
            )
        made = calendar(session.trees, waiting, now, without_names=without_names)
    write(file, made)
    return 0 if wanted else 1


def _forget(session: Session, days: int, yes: bool) -> int:
    """Say what is older than so many days, and take it out once that is agreed to."""
    if not days:
        raise click.UsageError("Say after how many days: diagnose log --forget --days 1100, or the setting keep-days.")
    before = datetime.now(UTC) - timedelta(days=days)
    found = to_forget(session.store, session.trees, before)
    for each in found.calls:
        click.echo(_line(session, each))
    if found.still_open:
        click.echo(f"{found.still_open} as old are still open, and stay. End them first.", err=True)
    if not (found.calls or found.records):
        click.echo(f"Nothing that has ended is older than {days} days.", err=True)
        return 0
    calls, records, where = len(found.calls), found.records, session.store.where
    click.echo(plain(f"Out of {where} go {calls} calls and {records} replaced records of doors, for good."))
    click.echo("A door that is kept keeps how many calls it had, how they ended and what was wrong.")
    click.echo("Exported copies, backups, saved pages and practice stay.")
    if not yes and not click.confirm("Take them out?", default=False):
        click.echo("Nothing was taken out.", err=True)
        return 0
    forget(session.store, found, before)
    click.echo("Taken out.")
    return 0


def _one(session: Session, call_id: str, as_json: bool, export_file: str | None, without_names: bool) -> int:
    if export_file:
        write(export_file, export_call(session.store, call_id, without_names))
        return 0
    events = session.store.events(call_id)
    remarks = remarks_on(events)
    for event in events:
        if as_json:
            click.echo(encode(event))
            continue
        moment = datetime.fromisoformat(event.at).astimezone().strftime("%Y-%m-%d %H:%M:%S")
        remark = f"  ({remarks[event.sequence]})" if event.sequence in remarks else ""
        who = f" by {event.by}" if event.by else ""
        click.echo(plain(f"{event.sequence:>4}  {moment}{who}  {event_in_words(session.trees, event)}{remark}"))
    return 0


def _import(session: Session, file: str) -> int:
    arrival = import_call(session.store, read_copy(read_text(file)), session.settings.by)
    said = {
        "new": f"Call {arrival.call_id} is here now, {arrival.added} entries.",
        "nothing new": f"Call {arrival.call_id} was here already, with all of this.",
        "continued": f"Call {arrival.call_id} went on elsewhere: {arrival.added} entries added.",
        "merged": f"Call {arrival.call_id} went on both here and elsewhere: {arrival.added} entries added.",
    }
    click.echo(said[arrival.kind])
    for each in arrival.differences:
        for event in (each.here, each.there):
            where, stands = ("Here" if event is each.here else "There"), " This stands." * (event is each.in_order[0])
            click.echo(f"{where}: {plain(event_in_words(session.trees, event))}.{stands}")
    if strange := not_known(Call(session.trees, history=session.store.events(arrival.call_id))):
        click.echo(plain(strange))
    return 0
