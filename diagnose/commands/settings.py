"""``diagnose settings``: see and change what is set once."""

from __future__ import annotations

import click

from diagnose.cli import Session
from diagnose.settings import MEANINGS, change_settings, known_values, load_settings, settings_file, shown


@click.command()
@click.argument("changes", nargs=-1, metavar="[NAME=VALUE]...")
@click.option("--keys", is_flag=True, help="List the keys of the screens, and what each is chosen by.")
@click.option("--where", is_flag=True, help="Print only where the file is.")
@click.pass_obj
def settings(session: Session, changes: tuple[str, ...], keys: bool, where: bool) -> int:
    """Show the settings, or change some; NAME= with nothing after it goes back to the usual.

    \b
    Examples:
      diagnose settings
      diagnose settings units=metric by="Ana Ruiz"
      diagnose settings keep-days=1100
      diagnose settings people="anyone, technician, door technician"
      diagnose settings keys.explain=f6 keys.repair="f2, v"
    """
    if where:
        click.echo(settings_file())
        return 0
    if keys:
        _list_keys()
        return 0
    if changes:
        pairs = dict(change.partition("=")[::2] for change in changes if "=" in change)
        if len(pairs) < len(changes):
            raise click.UsageError("Write each change once, like units=metric.")
        known = known_values(session.trees) if {"language", "people"} & set(pairs) else None
        change_settings(pairs, known=known)
    values, problems = load_settings()
    click.echo(f"{settings_file()}")
    for name, meaning in MEANINGS.items():
        click.echo(f"  {name:<9} {shown(values, name) or '(the usual)':<24} {meaning}")
    for problem in problems:
        click.echo(str(problem), err=True)
    return 2 if problems else 0


def _list_keys() -> None:
    from diagnose.tui.actions import ACTIONS
    from diagnose.tui.keys import can_be_chosen, choose, key_name, keys_of

    choose(load_settings()[0].keys)
    for action in {action.meaning: action for action in reversed(ACTIONS) if can_be_chosen(action.meaning)}.values():
        keys_now = ", ".join(key_name(key) for key in keys_of(action))
        click.echo(f"  {action.meaning:<11} {keys_now:<12} {action.title}")
