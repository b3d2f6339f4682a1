"""``diagnose report``: the record of a call."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import click

from diagnose.cli import Session
from diagnose.commands.given import write_document
from diagnose.settings import firm_of


@click.command()
@click.argument("call")
@click.option("--pdf", "pdf_file", metavar="FILE", help="Write a PDF file, ready to print and sign.")
@click.option("--html", "html_file", metavar="FILE", help="Write one HTML page that prints well.")
@click.option("--text", "text_file", metavar="FILE", help="Write plain text; - is the screen (the usual).")
@click.option("--paper", type=click.Choice(["letter", "a4"]), default=None, help="Paper, in place of the settings'.")
@click.pass_obj
def report(
    session: Session, call: str, pdf_file: str | None, html_file: str | None, text_file: str | None, paper: Any
) -> None:
    """Write the record of CALL for the customer: a page to sign, and a technical appendix.

    CALL is an id as 'diagnose log' lists it, its last four letters, or 'last'. The firm's name, logo and words are
    set once: diagnose settings firm="Alder Door Service" logo=~/logo.png

    \b
    Examples:
      diagnose report last
      diagnose report k7qd --pdf record.pdf
      diagnose report k7qd --html record.html --paper a4
    """
    from diagnose.calls.call import Call
    from diagnose.calls.report import record

    call_id = session.store.find(call)
    job = Call(session.trees, history=session.store.events(call_id))
    firm = firm_of(session.settings)
    document = record(job, call_id, firm=replace(firm, paper=paper or firm.paper))
    write_document(document, {".pdf": pdf_file, ".html": html_file, ".txt": text_file}, ".txt")
