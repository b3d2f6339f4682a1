"""``diagnose learn``: what the shop's own closed calls propose for the numbers in the trees, for a person to accept."""

from __future__ import annotations

from datetime import date

import click
import msgspec

from diagnose.cli import Session
from diagnose.commands.console import Console, EndOfInput
from diagnose.commands.progress import progress
from diagnose.knowledge.learned import Change, read_learned, unfit_problems, with_learned
from diagnose.knowledge.load import load_trees
from diagnose.knowledge.model import Trees
from diagnose.learning.learn import (
    FOR_A_LOT,
    Learnt,
    accept,
    change_in_words,
    flag_in_words,
    lot_in_words,
    still_to_review,
    undo,
)
from diagnose.learning.learn import learn as learn_from
from diagnose.learning.records import Lessons


@click.command()
@click.option("--review", is_flag=True, help="Go through what is proposed, one by one, and accept or skip it.")
@click.option("--accepted", is_flag=True, help="List what was accepted, by whom and when, and what no longer fits.")
@click.option("--undo", metavar="ENTRY", help="Undo what was accepted of an entry; 'all' undoes everything.")
@click.option("--rebuild", is_flag=True, help="Read every closed call anew before counting.")
@click.option("--json", "as_json", is_flag=True, help="Print for a program to read.")
@click.option("--by", default="", help="Who accepts; by default the name in your settings.")
@click.pass_obj
def learn(
    session: Session, review: bool, accepted: bool, undo: str | None, rebuild: bool, as_json: bool, by: str
) -> int:
    """Propose better numbers from the calls that were closed with their cause found and proved.

    Nothing changes until somebody accepts it with --review; then it stands in a file beside the trees, and
    'diagnose learn --undo' undoes it. Exit code 1 says that there is nothing to propose.

    \b
    Examples:
      diagnose learn
      diagnose learn --review --by "A. Example"
      diagnose learn --accepted
      diagnose learn --undo photo-eye-out-of-line
    """
    if undo is not None:
        return _undo(session, undo)
    written = load_trees(session.folder)
    if accepted:
        return _accepted(session, written)
    learnt = learn_from(written, caught_up(session, rebuild))
    if as_json:
        return _as_json(learnt)
    if review:
        return _review(session, written, learnt, by or session.settings.by)
    return _print(session, written, learnt)


def caught_up(session: Session, rebuild: bool = False) -> Lessons:
    """The lessons of the store, level with its events; what takes long says how far it is."""
    lessons = Lessons.of(session.store)
    if rebuild:
        lessons.rebuild()
    with progress("Calls", kept="What was read until then stays; the rest is read the next time.") as show:
        lessons.catch_up(session.trees, lambda done, of: show(f"read, of {of:,}", done))
    return lessons


def _print(session: Session, written: Trees, learnt: Learnt) -> int:
    console = Console()
    changes = still_to_review(learnt.proposals, read_learned(session.learned), written)
    console.say(f"{learnt.calls} closed calls with a cause to their name.")
    if changes:
        console.apart("Proposed; 'diagnose learn --review' accepts or skips each:")
        for change in changes:
            console.say(f"  {change_in_words(written, change)}", hang=4)
    if learnt.proposals.flags:
        console.apart(f"Not to be believed any more, of {learnt.proposals.tested} likelihoods that were met:")
        for flag in learnt.proposals.flags:
            console.say(f"  {flag_in_words(written, flag)}", hang=4)
    for lot in learnt.lots:
        console.apart(lot_in_words(lot))
        for line in lot.told():
            console.say(f"  {line}", hang=4)
        console.say(FOR_A_LOT)
        for line in lot.skeleton(written).splitlines():
            click.echo(line)
    if not (changes or learnt.proposals.flags or learnt.lots):
        console.say("They say nothing that the trees do not say already.")
        return 1
    return 0


def _review(session: Session, written: Trees, learnt: Learnt, by: str) -> int:
    console = Console()
    if not by.strip():
        raise click.UsageError('Say who accepts, as in: diagnose learn --review --by "A. Example"')
    changes = still_to_review(learnt.proposals, read_learned(session.learned), written)
    taken: list[Change] = []
    of_sort = ""
    try:
        for number, change in enumerate(changes, start=1):
            if change.what == of_sort:
                taken.append(change)
                continue
            console.apart(f"{number} of {len(changes)}. {change_in_words(written, change)}")
            said = _asked(console, change)
            if said == "q":
                break
            if said in ("a", "s"):
                taken.append(change)
            of_sort = change.what if said == "s" else ""
    except EndOfInput:
        console.say("No more was said: what was accepted so far is kept.")
    if taken:
        try:
            accept(session.learned, written, taken, by.strip(), date.today())
        except OSError as error:
            raise click.ClickException(f"{session.learned} cannot be written: {error.strerror}.") from None
    console.apart(f"{len(taken)} of {len(changes)} accepted" + (f", in {session.learned}." if taken else "."))
    return 0 if changes else 1


def _asked(console: Console, change: Change) -> str:
    while True:
        said = console.ask("accept, skip, all of this sort, or quit? [a/k/s/q]").strip().casefold()
        known = {"accept": "a", "skip": "k", "all": "s", "quit": "q"}
        said = known.get(said, said)
        if said in ("a", "k", "s", "q"):
            return said
        console.say(f"Type a to accept it, k to skip it, s to accept every '{change.what}' that follows, or q.")


def _accepted(session: Session, written: Trees) -> int:
    console, learned = Console(), read_learned(session.learned)
    unfit = with_learned(written, learned)[1]
    lost = {each.change.place for each in unfit}
    for change in learned.changes:
        if change.place not in lost:
            console.say(f"{change_in_words(written, change)}; {change.by}, {change.on}", hang=2)
    for problem in unfit_problems(session.learned, unfit) if unfit else ():
        console.say(str(problem), hang=2)
    if not learned.changes:
        console.say("Nothing was accepted: the trees' own numbers hold.")
    return 0 if learned.changes else 1


def _undo(session: Session, entry: str) -> int:
    try:
        count = undo(session.learned, "" if entry == "all" else entry)
    except OSError as error:
        raise click.ClickException(f"{session.learned} cannot be changed: {error.strerror}.") from None
    click.echo(f"{count} undone; the trees' own numbers hold there." if count else "Nothing of that was accepted.")
    return 0 if count else 1


def _as_json(learnt: Learnt) -> int:
    data = {
        "calls": learnt.calls,
        "changes": learnt.proposals.changes,
        "flags": learnt.proposals.flags,
        "tested": learnt.proposals.tested,
        "unlisted": learnt.lots,
    }
    click.echo(msgspec.json.encode(data).decode())
    return 0 if learnt.proposals.changes or learnt.proposals.flags or learnt.lots else 1
