"""``diagnose ask``: the interview line by line."""

from __future__ import annotations

from typing import Any

import click

from diagnose.calls.call import Call
from diagnose.calls.doors import known_at, recall
from diagnose.calls.store import CallSummary, StoreError
from diagnose.calls.words import title
from diagnose.cli import Session
from diagnose.commands.call import end_kept
from diagnose.commands.choosing import choose_symptom
from diagnose.commands.console import Console, EndOfInput
from diagnose.commands.given import pairs, people_in
from diagnose.commands.interview import Interview
from diagnose.commands.lines import Lines
from diagnose.knowledge.fitting import laid_over
from diagnose.knowledge.model import Trees
from diagnose.knowledge.words import counted
from diagnose.sitting.cautions import FIRST, REST
from diagnose.sitting.handover import say_beforehand

_MOST_OPEN = 9
Stated = dict[str, str | tuple[str, ...]]


@click.command()
@click.argument("symptom", required=False, default="")
@click.option("--fact", "facts", multiple=True, metavar="FACT=VALUE", help="Known of the door; repeat for each.")
@click.option("--call", "call_id", default="", metavar="CALL", help="Go on with this call; 'last' is the last begun.")
@click.option("--new", is_flag=True, help="Begin a new call without asking about open ones.")
@click.option("--site", default=None, help="Where the door is.")
@click.option("--door", default=None, help="Which door it is.")
@click.option("--by", default=None, help="Who is asking; kept with every answer.")
@click.option("--people", default=None, help="Who is at the door, parted by commas.")
@click.option("--units", type=click.Choice(["us", "metric", "both"]), default=None, help="How readings are shown.")
@click.option("--width", type=click.IntRange(20, 200), default=None, help="Columns to wrap at.")
@click.pass_obj
def ask(
    session: Session,
    symptom: str,
    facts: tuple[str, ...],
    call_id: str,
    new: bool,
    site: str | None,
    door: str | None,
    by: str | None,
    people: str | None,
    units: str | None,
    width: int | None,
) -> int:
    """Find the cause by an interview, line by line.

    The same as on the screens, without a screen: for a screen reader, a plain terminal, ssh, or a script that types
    the answers. Every answer is on the disk when it is taken down; where input ends, the call stays open.

    \b
    Examples:
      diagnose ask
      diagnose ask eye-lamp-wrong --fact drive=trolley --fact devices=photo-eye,timer
      diagnose ask --call last
    """
    settings = session.settings
    trees, store = session.trees, session.store
    console = Console(width or 0)
    by = _sound(settings.by if by is None else by)
    stated = stated_facts(facts, trees)
    here = people_in(people, settings.people)
    # What was given on the command line is judged before anything is asked.
    judged = Call(trees, stated)
    if people is not None:
        judged.state_people(here)
    console.say(f"{FIRST} {REST}")
    console.say()
    resumed = ""
    try:
        if call_id:
            resumed = store.find(call_id)
        elif not (new or symptom):
            resumed = _choose_open(session, console)
        if resumed:
            place = _sound(site or ""), _sound(door or "")
            call = gone_on_with(session, resumed, by, stated, *place, here if people is not None else ())
        else:
            symptom = choose_symptom(console, trees, stated, _sound(symptom), console.ask) or ""
            if site is None and door is None:
                site = console.ask("Site (Enter to leave it out):").strip()
                door = console.ask("Door (Enter to leave it out):").strip()
            place, complaints = (_sound(site or ""), _sound(door or "")), [symptom] if symptom else []
            call, resumed = begun(session, console, stated, *place, symptoms=complaints, people=here, by=by)
    except EndOfInput:
        console.say("Input ended before a call was begun.")
        return 0
    return hold(session, console, call, resumed, units)


def gone_on_with(
    session: Session, call_id: str, by: str, facts: Stated, site: str, door: str, people: tuple[str, ...]
) -> Call:
    """A call that is kept, with what was said of its door beforehand."""
    call = session.kept_call(call_id, by)
    for fact, value in facts.items():
        call.state_fact(fact, value)
    say_beforehand(call, site, door, people)
    return call


def begun(session: Session, console: Console, facts: Stated, site: str, door: str, **said: Any) -> tuple[Call, str]:
    """A new call, and the id it is kept under; what is known of its door is told, and taken along."""
    store = session.store
    known = known_at(store, session.trees, site, door)
    if known.sentence:
        console.say(known.sentence)
    call_id = store.begin()
    record = store.recorder(call_id)
    facts = laid_over(session.trees.facts, known.facts, facts)
    call = Call(session.trees, facts, site=site, door=door, recorder=record, **said)
    call.recall(known.readings, known.lines)
    return call, call_id


def hold(session: Session, console: Console, call: Call, call_id: str, units: str | None = None) -> int:
    """Interview at a call that is kept under ``call_id``, until it is closed, left, or the input ends."""
    trees = session.trees
    if known := recall(session.store, call, call_id):
        console.say(known)
    console.say(f"Call {call_id}, kept in {session.store.where}. Type help at any time.")
    if call.walk is not None:
        console.say(f"{call.walk.title}: {counted(len(call.open_jobs()), 'job')} left.")
    for kept in call.state.symptoms:
        console.say(f"Complaint: {trees.symptoms[kept].title if kept in trees.symptoms else kept}")
    going_on = f"The call is open. Go on with it: diagnose ask --call {call_id}"
    interview = Interview(call, call_id, console, units or session.settings.units)  # type: ignore[arg-type]
    interview.placed = lambda: recall(session.store, call, call_id)
    try:
        interview.run()
    except (EndOfInput, KeyboardInterrupt):
        console.say()
    except StoreError:
        console.say(f"The last entry was not taken down. {going_on}")
        raise
    if call.state.outcome is None:
        console.say(going_on)
    return 0


def _choose_open(session: Session, console: Console) -> str:
    """One of the calls that are open, or ``""`` for a new one."""
    calls = [call for call in session.store.calls(open_only=True) if not call.trouble][:_MOST_OPEN]
    if not calls:
        return ""
    console.say("These calls are open:")
    texts = [_in_words(session.trees, call) for call in calls]
    lines = Lines(console)
    chosen = lines.one_of([*texts, "A new call", "End one of these, which nobody goes on with"], "Go on with:")
    if chosen <= len(calls):
        return calls[chosen].id if chosen < len(calls) else ""
    ended = calls[lines.one_of(texts, "Which ends:")].id
    try:
        console.say(end_kept(session, ended, session.settings.by, console.ask("Why does nobody go on with it?")))
    except click.ClickException as error:
        console.say(error.message)
    return _choose_open(session, console)


def _in_words(trees: Trees, call: CallSummary) -> str:
    complaints = [title(trees, "symptoms", each) for each in call.symptoms]
    return ", ".join(filter(None, [call.id, call.site, call.door, *complaints, call.waiting]))


def stated_facts(written: tuple[str, ...], trees: Trees) -> Stated:
    """``drive=trolley`` and ``devices=photo-eye,timer`` as facts, by id or as the screens name them.

    What they name is checked by the call.
    """
    stated: Stated = {}
    for fact, value in pairs(written, "states no fact. Write it like drive=trolley."):
        named = (each.id for each in trees.facts.values() if each.title.casefold() == fact.casefold())
        known = trees.facts.get(fact := next(named, fact))
        meant = known.meant if known is not None else str
        values = tuple(meant(part.strip()) for part in value.split(",") if part.strip())
        earlier = stated.get(fact, ())
        if known is not None and known.many == "yes":
            stated[fact] = (*(earlier if isinstance(earlier, tuple) else ()), *values)
        else:
            stated[fact] = meant(value)
    return stated


def _sound(text: str) -> str:
    """Text from the command line with nothing in it that cannot be written down."""
    return text.encode("utf-8", "replace").decode("utf-8")
