"""``diagnose settings``: see and change what is set once."""

from __future__ import annotations

import click


@click.command(short_help="Show the settings, or change some.")
@click.argument("changes", nargs=-1, metavar="[NAME=VALUE]...")
@click.option("--where", is_flag=True, help="Print only where the file is.")
def settings(changes: tuple[str, ...], where: bool) -> int:
    """Show the settings, or change some; NAME= with nothing after it goes back to the usual.

    \b
    Examples:
      diagnose settings
      diagnose settings units=metric by="Ana Ruiz"
      diagnose settings keep-days=1100
      diagnose settings people="anyone, technician, door technician"
    """
    from diagnose.settings import MEANINGS, change_settings, load_settings, settings_file

    if where:
        click.echo(settings_file())
        return 0
    if changes:
        pairs = dict(change.partition("=")[::2] for change in changes if "=" in change)
        if len(pairs) < len(changes):
            raise click.UsageError("Write each change once, like units=metric.")
        change_settings(pairs)
    values, problems = load_settings()
    click.echo(f"{settings_file()}")
    for name, meaning in MEANINGS.items():
        value = getattr(values, name.replace("-", "_"))
        shown = ", ".join(value) if isinstance(value, tuple) else value
        click.echo(f"  {name:<9} {shown or '(the usual)':<24} {meaning}")
    for problem in problems:
        click.echo(str(problem), err=True)
    return 2 if problems else 0
