"""``diagnose practise``: doors broken on purpose; the debriefing again, a trainee's progress, a trainer's class."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from functools import partial
from pathlib import Path

import click

from diagnose.calls.forms import FORMS
from diagnose.cli import Session as Shell
from diagnose.commands.console import Console, EndOfInput, say_all
from diagnose.commands.given import known, on_a_terminal, write_document
from diagnose.commands.lines import Lines
from diagnose.commands.practise_lines import PracticeLines
from diagnose.knowledge.problems import did_you_mean
from diagnose.practice import telling
from diagnose.practice.debrief import Debrief
from diagnose.practice.debriefing import debriefing
from diagnose.practice.desk import Desk
from diagnose.practice.drawing import Wish, draw_scenario
from diagnose.practice.library import load_library
from diagnose.practice.records import Records
from diagnose.practice.scenario import Scenario
from diagnose.practice.scene import PracticeError
from diagnose.practice.session import Session
from diagnose.practice.trainer import class_view

_PERSON = "trainee"


@click.command()
@click.argument("scenario", required=False, default="")
@click.option("--seed", type=click.IntRange(0, 2**31 - 1), default=None, help="The same seed, the same door.")
@click.option("--family", default="", help="Draw a door whose complaint is of this family.")
@click.option("--difficulty", type=click.Choice(["easy", "medium", "hard"]), default=None, help="Draw one so hard.")
@click.option("--faults", type=click.Choice(["1", "2"]), default=None, help="Draw one with so many faults.")
@click.option(
    "--misleading-caller/--honest-caller", default=None, help="Draw one whose caller is wrong, or one who is right."
)
@click.option("--hints/--no-hints", default=True, help="Whether hints can be asked for, at a price.")
@click.option("--trainee", default=None, help="Who practises; by default the name in the settings.")
@click.option("--plain", is_flag=True, help="Line by line, for a screen reader, ssh, or a script.")
@click.option("--list", "list_all", is_flag=True, help="List the scenarios.")
@click.option("--progress", is_flag=True, help="What you can do by now, and what to practise next.")
@click.option("--class", "whole_class", is_flag=True, help="The trainer's view of everybody on record.")
@click.option("--debrief", "debrief_of", default="", metavar="PRACTICE", help="A debriefing again; 'last' is the last.")
@click.option("--export", metavar="FILE", default="", help="Write the debriefing as *.html, *.pdf, *.md or *.txt.")
@click.option("--scenarios", default=None, metavar="FOLDER", help="Scenarios in place of those that ship.")
@click.option("--width", type=click.IntRange(20, 200), default=None, help="Columns to wrap at.")
@click.pass_obj
def practise(
    shell: Shell,
    scenario: str,
    seed: int | None,
    family: str,
    difficulty: str | None,
    faults: str | None,
    misleading_caller: bool | None,
    hints: bool,
    trainee: str | None,
    plain: bool,
    list_all: bool,
    progress: bool,
    whole_class: bool,
    debrief_of: str,
    export: str,
    scenarios: str | None,
    width: int | None,
) -> int:
    """Practise on a door that is broken on purpose.

    Pick a SCENARIO, by its title or id, or have one drawn by saying what it is to be like. On a terminal the screens
    open; with --plain, or without a terminal, it is done line by line. Every act is on the disk when it is done, and a
    practice that was broken off is gone on with at the next start. Exit code 1: the door was not mended, proved and
    returned.

    \b
    Examples:
      diagnose practise
      diagnose practise pennymoor-cold-store --plain
      diagnose practise --family sensor-indicator --difficulty hard --misleading-caller --seed 7
      diagnose practise --debrief last --export debriefing.html
    """
    trees = shell.trees
    known("family of complaints", [family] if family else [], trees.families)
    library = load_library(trees, scenarios)
    who = (shell.settings.by or _PERSON) if trainee is None else trainee.strip() or _PERSON
    desk = Desk(trees, library, Records.of(shell.store), who)
    console = Console(width or 0)
    if list_all:
        return _list(desk, console)
    if progress:
        return _progress(desk, console)
    if whole_class:
        return _class(desk, console)
    if debrief_of:
        return _debrief_again(desk, console, debrief_of, export)
    wish = Wish(
        family=family,
        level=difficulty,  # type: ignore[arg-type]
        faults=int(faults or 1),
        misleading=misleading_caller,
    )
    drawn = bool(family or difficulty or faults) or misleading_caller is not None or (seed is not None and not scenario)
    if not plain and not export and on_a_terminal():
        from diagnose.tui.screens.practice import PracticeScreen

        wanted = wish if drawn else None
        first = lambda: PracticeScreen(scenarios, who, scenario, wanted, seed, hints)  # noqa: E731
        shell.open_screens(shell.settings, first=first)
        return 0
    try:
        if scenario:
            session = desk.begin(_named(desk, scenario), seed, hints)
        elif drawn:
            chosen = _fresh_seed() if seed is None else seed
            session = desk.begin(draw_scenario(trees, library, chosen, wish), chosen, hints)
        else:
            session = _choose(desk, console, wish, hints)
        found = PracticeLines(desk, session, console).run()
    except EndOfInput:
        console.say("Input ended. What was done is kept, and gone on with at the next start.")
        return 1
    except PracticeError as error:
        raise click.ClickException(str(error)) from None
    if found is None:
        return 1
    if export:
        _export(found, export)
    return 0 if found.solved else 1


def _fresh_seed() -> int:
    return secrets.randbelow(1_000_000)


def _named(desk: Desk, name: str) -> Scenario:
    """A scenario by its id or its title, or the start of only one."""
    there, wanted = desk.library.scenarios, name.casefold()
    begun = [id for id, each in there.items() if id.startswith(wanted) or each.title.casefold().startswith(wanted)]
    fitting = [name] if name in there else begun
    if len(fitting) != 1:
        raise click.UsageError(f"'{name}' is no scenario. {did_you_mean(name, there)}")
    return there[fitting[0]]


def _choose(desk: Desk, console: Console, wish: Wish, hints: bool) -> Session:
    """What to practise: go on, what is advised, one of the list, or one drawn."""
    lines = Lines(console)
    ways: list[tuple[str, Callable[[], Session]]] = []
    for practice in desk.unfinished()[:3]:
        ways.append((f"Go on with: {practice.scenario.title} ({practice.id})", partial(desk.resume, practice)))
    advice = desk.advice()
    if advice is not None:
        ways.append((f"{advice.scenario.title}. {advice.why}", lambda: desk.begin(advice.scenario, None, hints)))

    def drawn() -> Session:
        seed = _fresh_seed()
        console.say(f"Drawn with seed {seed}.")
        return desk.begin(draw_scenario(desk.trees, desk.library, seed, wish), seed, hints)

    def listed() -> Session:
        scenarios = list(desk.library.scenarios.values())
        texts = [f"{each.title} ({each.level})" for each in scenarios]
        return desk.begin(scenarios[lines.one_of(texts, "Which (Enter for the first):", empty=True) or 0], None, hints)

    ways += [("Draw a door by chance", drawn), ("Pick from the list", listed)]
    prompt = "What to practise (Enter for the first):"
    return ways[lines.one_of([text for text, _ in ways], prompt, empty=True) or 0][1]()


def _export(found: Debrief, file: str) -> None:
    form = Path(file).suffix.casefold()
    write_document(debriefing(found), {form if form in FORMS else ".md": file}, ".md")


def _debrief_again(desk: Desk, console: Console, which: str, export: str) -> int:
    assert desk.records is not None
    practice = desk.records.practice(which)
    found = desk.look_back(practice)
    if export:
        _export(found, export)
    else:
        console.read(debriefing(found))
    return 0


def _list(desk: Desk, console: Console) -> int:
    best: dict[str, float] = {}
    for practice in desk.practices():
        if practice.result is not None:
            name = practice.scenario.id
            best[name] = max(best.get(name, 0.0), practice.result.score)
    for scenario in desk.library.scenarios.values():
        done = f", best score {best[scenario.id]:.0f}" if scenario.id in best else ""
        console.say(f"{scenario.id}: {scenario.title} ({scenario.level}{done})", hang=2)
    return 0


def _progress(desk: Desk, console: Console) -> int:
    practices = desk.practices()
    say_all(console, telling.progress(desk.trees, desk.trainee, desk.progress(), practices, desk.advice()))
    return 0


def _class(desk: Desk, console: Console) -> int:
    assert desk.records is not None
    view = class_view(desk.records.practices())
    say_all(console, telling.whole_class(view))
    return 0 if view.members else 1
