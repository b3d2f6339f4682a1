"""``diagnose schema``: the open forms in which calls, doors, dispatch sheets and requests are exchanged."""

from __future__ import annotations

import click


@click.command()
@click.argument("form", type=click.Choice(["call", "door", "sheet", "request"]))
def schema(form: str) -> int:
    """Print the JSON Schema of a call (log --export), a door (door export), a dispatch sheet (screen --json) or
    of the requests that screen reads.

    \b
    Example:
      diagnose schema sheet > sheet.schema.json
    """
    from diagnose.screening.forms import schema as written

    click.echo(written(form), nl=False)
    return 0
