"""``diagnose sync``: bring the calls and doors of this machine and of the shop's store together."""

from __future__ import annotations

import click

from diagnose.calls.brought import Brought
from diagnose.calls.differences import Differences, Differing
from diagnose.calls.store import Store, decode
from diagnose.calls.sync import sync as bring_together
from diagnose.calls.words import event_in_words
from diagnose.cli import Session
from diagnose.commands.console import plain
from diagnose.commands.progress import progress
from diagnose.knowledge.words import counted, local_time


@click.command()
@click.argument("shop", metavar="[URL]", required=False)
@click.option("--all", "everything", is_flag=True, help="Fetch every call of the shop, not only those to go on with.")
@click.option("--dry-run", "dry", is_flag=True, help="Say what would be sent and fetched, and change nothing.")
@click.option("--differences", "listing", is_flag=True, help="List what two people recorded differently, unsettled.")
@click.option("--settle", metavar="ID", help="Say that a difference is settled.")
@click.pass_obj
def sync(session: Session, shop: str | None, everything: bool, dry: bool, listing: bool, settle: str | None) -> int:
    """Bring the calls and doors on this machine, and those of the shop's store at URL, together.

    Work offline as long as you like; what both had is on both afterwards, once. From the shop come its open calls, the
    calls before them at the same doors, and its doors. It may be broken off at any time and begun again. Where two
    people recorded different things without knowing of each other, both words are kept; they are listed until settled.
    Exit code 1 says that there are differences to settle, or that something was left for the next time.

    \b
    Examples:
      diagnose sync postgresql://shop.example/diagnose --dry-run
      diagnose sync postgresql://shop.example/diagnose
      diagnose sync --differences
      diagnose sync --settle 3f2a
    """
    differences = Differences.of(session.store)
    if settle:
        each = differences.settle(settle, session.settings.by)
        click.echo(f"Settled: {each.id}, {each.kind} {each.about}. The shop is told at the next sync.")
        return 0
    if not listing:
        if not shop:
            raise click.UsageError("Say where the shop's store is, as in: diagnose sync postgresql://host/name")
        there = Store.open(shop)
        try:
            if there.where == session.store.where:
                raise click.UsageError("That is the store in use here: there is nothing to bring together.")
            with progress("Sync", kept="What was brought until then stays; the rest comes the next time.") as show:
                brought = bring_together(
                    session.store,
                    there,
                    session.settings.by,
                    everything=everything,
                    dry=dry,
                    progress=lambda what, done, of: show(f"{what}, of {of:,}", done),
                )
        finally:
            there.close()
        _tell(brought, dry)
        if dry:
            _list(session, brought.differences)
            return 1 if brought.differences or brought.left else 0
    unsettled = differences.unsettled()
    _list(session, unsettled)
    return 1 if unsettled or (not listing and brought.left) else 0


def _tell(brought: Brought, dry: bool) -> None:
    would = "Would be " if dry else ""
    calls = [
        (f"{would}sent", brought.sent, brought.events_sent),
        (f"{would}fetched", brought.got, brought.events_got),
    ]
    for done, ids, _ in calls:
        click.echo(f"{done.capitalize()}: {counted(len(ids), 'call')}.")
    click.echo(f"Entries {would.lower()}sent: {brought.events_sent}; fetched: {brought.events_got}.")
    if brought.merged:
        click.echo(f"{would}merged, for they went on both here and there: {', '.join(brought.merged)}.".capitalize())
    if brought.doors_sent or brought.doors_got:
        sent, got = counted(len(brought.doors_sent), "door"), counted(len(brought.doors_got), "door")
        click.echo(f"{would}sent: what is known of {sent}; fetched: of {got}.".capitalize())
    for before, now in brought.renamed:
        click.echo(f"Another call of the shop is called {before} too: the one of this machine is {now} from now on.")
    for ids, where, other in (
        (brought.forgotten_here, "here", "in the shop's store"),
        (brought.forgotten_there, "in the shop's store", "here"),
    ):
        if ids:
            click.echo(f"Forgotten {where}, and so not brought back; still {other}: {', '.join(ids)}.")
    for sentence in brought.left:
        click.echo(sentence, err=True)


def _list(session: Session, differences: list[Differing]) -> None:
    def said(each: Differing, word: str) -> str:
        if each.kind == "door":
            return plain(word)
        event = decode(word)
        return plain(f"{event.by or 'somebody'} at {local_time(event.at)}: {event_in_words(session.trees, event)}")

    if differences:
        click.echo(f"Recorded differently by two people, to be settled: {len(differences)}.")
    for each in differences:
        click.echo(f"{each.id}  {each.kind} {each.about}")
        click.echo(f"  Stands: {said(each, each.stands)}")
        click.echo(f"  Other:  {said(each, each.other)}")
        again = f"diagnose ask --call {each.about}" if each.kind == "call" else f"diagnose door change {each.about}"
        click.echo(f"  Say what is so ({again}), then: diagnose sync --settle {each.id}")
