"""``diagnose evaluate``: how good the program is, on doors simulated from its own trees or on doors from life."""

from __future__ import annotations

import os
from collections.abc import Sequence
from itertools import count
from pathlib import Path

import click
import msgspec

from diagnose.commands.given import known, write
from diagnose.commands.progress import progress
from diagnose.knowledge.load import load_trees
from diagnose.knowledge.model import Trees
from diagnose.learning.plot import calibration_svg
from diagnose.practice import evaluate as evaluation
from diagnose.practice.from_life import DoorFile, LifeDoor, load_doors
from diagnose.practice.playing import play, play_all
from diagnose.practice.playing_report import as_data, calibration_of, report
from diagnose.practice.simulated import POLICIES
from diagnose.reasoning.scoring import CalibrationBin

# What says something of simulated calls alone, and of doors from life alone.
_NOTHING_KEPT = "Of these no figures are made."
_OF_SIMULATED = ("calls", "seed", "policies")
_OF_DOORS = ("aside", "everything", "idle", "show", "as_json", "processes")


@click.command()
@click.option("--calls", default=146, show_default=True, help="Calls of each kind, spread evenly over the symptoms.")
@click.option("--seed", default=1, show_default=True, help="The same seed gives the same figures.")
@click.option("--policy", "policies", multiple=True, help="Only this policy; may be given several times.")
@click.option("--family", "families", multiple=True, help="Only this family of symptoms; may be given several times.")
@click.option("--trees", "folder", type=click.Path(path_type=Path), default=None, help="A folder of trees of your own.")
@click.option("--plot", type=click.Path(path_type=Path), default=None, help="Write the calibration plot here, as SVG.")
@click.option(
    "--doors", "first", metavar="FILE…", default=None, help="Play doors from life: files, or folders of them."
)
@click.argument("more", nargs=-1, metavar="", type=click.Path())
@click.option("--aside", is_flag=True, help="With --doors: only the doors that are set aside, not the others.")
@click.option("--all", "everything", is_flag=True, help="With --doors: those that are set aside, and the others.")
@click.option("--idle", is_flag=True, help="With --doors: find idle checks, which takes twice as long.")
@click.option("--show", metavar="DOOR", default="", help="With --doors: play one door, step by step.")
@click.option("--json", "as_json", is_flag=True, help="With --doors: print for a program to read.")
@click.option(
    "--processes",
    type=click.IntRange(1, 64),
    default=min(2, os.cpu_count() or 1),
    show_default="2, on one core 1",
    help="With --doors: play so many at once.",
)
@click.pass_context
def evaluate(
    context: click.Context,
    calls: int,
    seed: int,
    families: tuple[str, ...],
    policies: tuple[str, ...],
    folder: Path | None,
    plot: Path | None,
    first: str | None,
    more: tuple[str, ...],
    aside: bool,
    everything: bool,
    idle: bool,
    show: str,
    as_json: bool,
    processes: int,
) -> None:
    """Print how right, how quick and how sure of itself the program is.

    Calls are simulated from the trees themselves, unless --doors names files of doors from life: doors that people
    wrote without sight of the trees' likelihoods. An idle check is one after which, whatever its answer, the same
    cause leads and the same remedy would be put.

    \b
    Examples:
      diagnose evaluate --calls 292 --family chain
      diagnose evaluate --doors tests/from_life
      diagnose evaluate --doors tests/from_life/devices.yaml --show s07
    """
    _refuse(context, _OF_SIMULATED if first else _OF_DOORS, "With --doors" if first else "Without --doors")
    if more and first is None:
        raise click.UsageError(f"'{more[0]}' stands for nothing here. Write '--doors' before files of doors.")
    trees = load_trees(folder)
    known("family", families, trees.families)
    known("policy", policies, POLICIES)
    if first is None:
        bins = _simulate(trees, calls, seed, families, policies or tuple(POLICIES))
    else:
        files, which = _chosen(trees, (first, *more), families, aside, everything, show)
        if show:
            if as_json or plot is not None:
                raise click.UsageError("'--show' prints the one call. Leave '--json' and '--plot' out.")
            _show(trees, files[0].doors[0])
            return
        bins = _play(trees, files, which, idle, as_json, processes)
    if plot is not None:
        write(plot, calibration_svg(bins))


def _refuse(context: click.Context, names: Sequence[str], when: str) -> None:
    """Refuse options that mean nothing here, rather than pass them over."""
    for parameter in context.command.params:
        source = context.get_parameter_source(parameter.name or "")
        if parameter.name in names and source == click.core.ParameterSource.COMMANDLINE:
            raise click.UsageError(f"{when}, '{parameter.opts[0]}' means nothing. Leave it out.")


def _simulate(
    trees: Trees, calls: int, seed: int, families: tuple[str, ...], policies: tuple[str, ...]
) -> list[CalibrationBin]:
    # Four ways of asking for the cause alone, each policy, and two faults at once.
    with progress("Simulated calls", 4 + len(policies) + 1, kept=_NOTHING_KEPT) as show:
        parts = count()
        found = evaluation.evaluate(trees, calls, seed, policies, families, lambda what: show(what, next(parts)))
    click.echo(evaluation.report(found))
    return found.calibration()


def _chosen(
    trees: Trees, places: Sequence[str], families: Sequence[str], aside: bool, everything: bool, show: str
) -> tuple[list[DoorFile], str]:
    """The doors to play, by file, and which of all the doors these are, in words."""
    if show and (aside or everything or families):
        raise click.UsageError("'--show' plays the one door. Leave '--aside', '--all' and '--family' out.")
    if aside and everything:
        raise click.UsageError("'--aside' and '--all' cannot both be. Write one of them.")
    files = load_doors(trees, places)
    if show:
        there = {door.id: DoorFile(file.name, (door,)) for file in files for door in file.doors}
        known("door of these files", [show], there)
        return [there[show]], show

    def is_wanted(door: LifeDoor) -> bool:
        family = trees.symptoms[door.complaint].family
        return (everything or door.set_aside == aside) and (not families or family in families)

    chosen = [DoorFile(file.name, tuple(filter(is_wanted, file.doors))) for file in files]
    if not any(file.doors for file in chosen):
        raise click.UsageError("No door is left to play. Try '--all', or another '--family'.")
    which = "all" if everything else "those set aside" if aside else "those set aside left out"
    return chosen, ", ".join([which, *families])


def _show(trees: Trees, door: LifeDoor) -> None:
    click.echo(f"{door.id}  {door.complaint}\nsays: {door.says}\ntruth: {door.truth}\n")
    played = play(trees, door, tell=click.echo)
    click.echo(f"\n{played.end}, {len(played.checks)} checks, {played.minutes:.0f} minutes")
    if played.why:
        click.echo(played.why)


def _play(
    trees: Trees, files: Sequence[DoorFile], which: str, idle: bool, as_json: bool, processes: int
) -> list[CalibrationBin]:
    doors = [door for file in files for door in file.doors]
    with progress("Doors from life", len(doors), kept=_NOTHING_KEPT) as show:
        played = play_all(trees, doors, idle=idle, processes=processes, progress=lambda done, of: show("", done))
    rest = iter(played)
    by_file = [(file.name, [next(rest) for _ in file.doors]) for file in files]
    if as_json:
        click.echo(msgspec.json.format(msgspec.json.encode(as_data(by_file, which)), indent=2).decode())
    else:
        click.echo(report(by_file, which))
    return calibration_of(played)
