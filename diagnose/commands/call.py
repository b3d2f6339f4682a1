"""``diagnose call``: the phone form, on the screens or line by line."""

from __future__ import annotations

import click
from msgspec.structs import replace

from diagnose.cli import Session
from diagnose.commands.console import Console
from diagnose.commands.given import known, on_a_terminal, write_document


@click.command()
@click.option("--plain", is_flag=True, help="Line by line, without a screen.")
@click.option("--call", "call_id", default="", metavar="CALL", help="Go on with this call; 'last' is the last begun.")
@click.option("--sheet", "sheet_only", is_flag=True, help="Print the dispatch sheet of --call and stop.")
@click.option("--end", "end_reason", metavar="REASON", help="Nobody will go: end --call with this reason, and stop.")
@click.option("--html", "html_file", metavar="FILE", help="Write the sheet as one HTML page that prints on one page.")
@click.option("--pdf", "pdf_file", metavar="FILE", help="Write the sheet as a PDF file, on one page.")
@click.option("--markdown", "markdown_file", metavar="FILE", help="Write the sheet as Markdown; - is the screen.")
@click.option("--site", default="", help="Where the door is.")
@click.option("--door", default="", help="Which door it is.")
@click.option("--by", default=None, help="Who takes the call; kept with every answer.")
@click.option("--language", default="", metavar="NAME", help="What is read out to the caller in, such as es.")
@click.option("--van", default="", metavar="NAME", help="Which van goes, by its id in the trees.")
@click.option("--width", type=click.IntRange(20, 200), default=None, help="Columns to wrap at.")
@click.pass_obj
def call(
    session: Session,
    plain: bool,
    call_id: str,
    sheet_only: bool,
    end_reason: str | None,
    html_file: str | None,
    pdf_file: str | None,
    markdown_file: str | None,
    site: str,
    door: str,
    by: str | None,
    language: str,
    van: str,
    width: int | None,
) -> int:
    """Take a phone call: danger first, a few questions a layman can answer, then the dispatch sheet.

    The technician goes on with the same call at the door. Without a terminal, or with --plain, it goes line by line.

    \b
    Examples:
      diagnose call
      diagnose call --plain --language es
      diagnose call --call last --sheet --html sheet.html
      diagnose call --call last --end "a wrong number"
    """
    trees = session.trees
    known("language of these trees", [language] if language else [], trees.languages)
    known("van of these trees", [van] if van else [], trees.vans)
    kept = session.store.find(call_id) if call_id else ""
    files = {".html": html_file, ".pdf": pdf_file, ".md": markdown_file}
    if sheet_only:
        if not kept:
            raise click.UsageError("Say whose sheet, as in: diagnose call --call last --sheet")
        return _print_sheet(session, kept, van, files)
    by = session.settings.by if by is None else by
    if end_reason is not None:
        return _end(session, kept, by, end_reason)
    if not plain and on_a_terminal():
        from diagnose.tui.screens.phone import PhoneScreen

        settings = replace(session.settings, by=by)
        session.open_screens(settings, first=lambda: PhoneScreen(kept, language, van, site, door))
        return 0
    from diagnose.commands.phone_lines import PhoneLines

    usual = session.settings.language if session.settings.language in trees.languages else ""
    lines = PhoneLines(session, Console(width or 0), by, language or usual, van)
    call_id = lines.run(kept, site, door)
    if call_id and any(files.values()):
        return _print_sheet(session, call_id, van, files)
    return 0


def _end(session: Session, kept: str, by: str, reason: str) -> int:
    if not kept:
        raise click.UsageError('Say which call ends, as in: diagnose call --call last --end "a wrong number"')
    click.echo(f"{kept}: {end_kept(session, kept, by, reason)}")
    return 0


def end_kept(session: Session, kept: str, by: str, reason: str) -> str:
    """End a kept call that nobody goes on with; gives back what has become of it."""
    from diagnose.calls.call import CallError
    from diagnose.sitting.phone import end_call, how_it_ended

    call = session.kept_call(kept, by)
    try:
        end_call(call, reason)
    except CallError as error:
        raise click.ClickException(str(error)) from None
    return how_it_ended(call)


def _print_sheet(session: Session, call_id: str, van: str, files: dict[str, str | None]) -> int:
    from diagnose.calls.call import Call
    from diagnose.screening.needs import first_van
    from diagnose.screening.paper import sheet_document
    from diagnose.screening.sheet import make_sheet
    from diagnose.settings import paper_of

    job = Call(session.trees, history=session.store.events(call_id))
    if not job.symptoms:
        raise click.ClickException(
            f"Call {call_id} has no complaint yet: 'diagnose call --call {call_id}' goes on with it."
        )
    sheet = make_sheet(job, first_van(session.trees, van))
    write_document(sheet_document(job, sheet, call_id, paper=paper_of(session.settings)), files, ".md")
    return 0
