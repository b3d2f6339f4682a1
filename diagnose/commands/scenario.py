"""``diagnose scenario``: looking scenarios over, veiling what they hide, and lifting the veil."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import click
import msgspec

from diagnose.cli import Session
from diagnose.knowledge.problems import Problems
from diagnose.practice.library import Draft, ScenarioError, check_library, read_scenario
from diagnose.practice.scenario import LEVELS, family_of, misleads, veiled_lines

_SECRET = ("hidden", "causes", "findings", "wrong", "sights", "teaches")


@click.group()
def scenario() -> None:
    """Check scenarios, veil what they hide, and lift the veil again. How to write one: scenarios/README.md."""


@scenario.command(short_help="Look scenarios over.")
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@click.pass_obj
def check(session: Session, folder: Path | None) -> int:
    """Look over every scenario of FOLDER, by default those that ship.

    Each fault is named with its file and line and what to do. Exit code 1 says that there are errors; warnings alone
    leave it at 0.

    \b
    Examples:
      diagnose scenario check
      diagnose scenario check my-scenarios/
    """
    trees = session.trees
    library, problems = check_library(trees, folder)
    for problem in problems:
        click.echo(f"{problem.severity}: {problem}")
    scenarios = library.scenarios.values()
    levels = Counter(each.level for each in scenarios)
    counted = ", ".join(f"{levels[level]} {level}" for level in LEVELS)
    doubles = sum(len(each.causes) > 1 for each in scenarios)
    astray = sum(bool(misleads(trees, each)) for each in scenarios)
    families = len({family_of(trees, each) for each in scenarios})
    click.echo(
        f"{len(library.scenarios)} scenarios ({counted}) of {families} families, {doubles} with two faults, "
        f"{astray} with a caller who is wrong; {len(library.consequences.mishaps)} mishaps. "
        f"{len(problems.errors)} errors, {len(problems) - len(problems.errors)} warnings."
    )
    return 1 if problems.errors else 0


@scenario.command(short_help="Say what a scenario hides.")
@click.argument("file", type=click.Path(path_type=Path))
@click.pass_obj
def reveal(session: Session, file: Path) -> int:
    """Print what FILE hides, as it would be written openly: for whoever mends a scenario, or teaches with it.

    Example: diagnose scenario reveal scenarios/pennymoor-cold-store.yaml
    """
    draft = _draft(session, file)
    click.echo("\n".join(_open_lines(draft)))
    return 0


@scenario.command(short_help="Hide what a scenario says openly.")
@click.argument("files", nargs=-1, required=True, metavar="FILE...", type=click.Path(path_type=Path))
@click.option("--open", "unveil", is_flag=True, help="The other way: write the secret openly, to change it.")
@click.pass_obj
def veil(session: Session, files: tuple[Path, ...], unveil: bool) -> int:
    """Put 'causes', 'findings', 'wrong', 'sights' and 'teaches' of each FILE behind the veil. All else stays as it is.

    The veil keeps an eye from straying to the answer, no more. It is bound to the file's name.

    \b
    Examples:
      diagnose scenario veil scenarios/new-one.yaml
      diagnose scenario veil --open scenarios/new-one.yaml
    """
    for file in files:
        draft = _draft(session, file)
        lines = _open_lines(draft) if unveil else veiled_lines(draft.scenario.id, draft.scenario.secret)
        kept = _without_secret(file.read_text(encoding="utf-8"))
        try:
            file.write_text("\n".join([*kept, *lines]) + "\n", encoding="utf-8")
        except OSError as error:
            raise click.ClickException(f"{file} cannot be written: {error.strerror}.") from None
        click.echo(f"{file}: {'open' if unveil else 'veiled'}.")
    return 0


def _draft(session: Session, file: Path) -> Draft:
    """A scenario's file. Raises ``ScenarioError`` with every fault in it."""
    problems = Problems()
    draft = read_scenario(session.trees, file, problems)
    if draft is None or problems.errors:
        raise ScenarioError(problems.errors)
    return draft


def _open_lines(draft: Draft) -> list[str]:
    """The secret as YAML, in the order in which it is read best."""
    import yaml

    written = msgspec.to_builtins(draft.scenario.secret)
    shown = {key: value for key, value in written.items() if value}
    text = yaml.safe_dump(shown, sort_keys=False, allow_unicode=True, width=110, default_flow_style=None)
    return text.rstrip("\n").split("\n")


def _without_secret(text: str) -> list[str]:
    """The lines of a file without those of the secret, comments and all else kept."""
    kept: list[str] = []
    inside = False
    for line in text.rstrip("\n").split("\n"):
        key = line.partition(":")[0]
        if line[:1] not in ("", " ", "-", "#"):
            inside = key in _SECRET
        if not inside:
            kept.append(line)
    while kept and not kept[-1].strip():
        kept.pop()
    return kept
