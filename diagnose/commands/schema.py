"""``diagnose schema``: the open forms in which calls, doors and dispatch sheets are exchanged."""

from __future__ import annotations

import click


@click.command(short_help="Print the JSON Schema of a call, a door or a sheet.")
@click.argument("form", type=click.Choice(["call", "door", "sheet"]))
def schema(form: str) -> int:
    """Print the JSON Schema of a call (log --export), a door (door export) or a dispatch sheet (screen --json).

    \b
    Example:
      diagnose schema sheet > sheet.schema.json
    """
    from diagnose.screening.forms import schema as written

    click.echo(written(form), nl=False)
    return 0
