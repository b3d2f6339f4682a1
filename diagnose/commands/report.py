"""``diagnose report``: the record of a call."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from diagnose.cli import Session


@click.command(short_help="Write the record of a call.")
@click.argument("call")
@click.option("--html", "html_file", metavar="FILE", help="Write one HTML page that prints well.")
@click.option("--markdown", "markdown_file", metavar="FILE", help="Write Markdown; - is the screen (the usual).")
@click.pass_obj
def report(session: Session, call: str, html_file: str | None, markdown_file: str | None) -> None:
    """Write the record of CALL: what was found, done and proved, and how each of it is known.

    CALL is an id as 'diagnose log' lists it, its last four letters, or 'last'.

    \b
    Examples:
      diagnose report last
      diagnose report k7qd --html record.html
    """
    from diagnose.calls.call import Call
    from diagnose.calls.report import html_report, markdown_report

    call_id = session.store.find(call)
    job = Call(session.trees, history=session.store.events(call_id))
    if html_file:
        write(html_file, html_report(job, call_id))
    if markdown_file or not html_file:
        write(markdown_file or "-", markdown_report(job, call_id))


def write(file: str, text: str) -> None:
    """Write text to a file, or to the screen for ``-``; a file that cannot be written is a plain fault."""
    if file == "-":
        click.echo(text, nl=False)
        return
    try:
        Path(file).write_text(text, encoding="utf-8")
    except OSError as error:
        raise click.ClickException(f"{file} cannot be written: {error.strerror}.") from None
    click.echo(f"Written: {file}", err=True)
