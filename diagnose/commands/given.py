"""What is given on the command line: names that have to be known, pairs, people, and files read and written."""

from __future__ import annotations

import sys
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from diagnose.knowledge.problems import did_you_mean

if TYPE_CHECKING:
    from diagnose.calls.document import Document


def known(what: str, names: Iterable[str], among: Collection[str]) -> None:
    """Raises ``click.UsageError``, with what may be meant, for a name that is not ``among`` those there are."""
    for name in names:
        if name not in among:
            raise click.UsageError(f"'{name}' is no {what}. {did_you_mean(name, among)}")


def pairs(written: Iterable[str], wrong: str) -> Iterator[tuple[str, str]]:
    """``weight=450 lb`` as a name and a value; ``wrong`` says what is amiss with one that has no ``=``, and what to
    write."""
    for each in written:
        name, separator, value = each.partition("=")
        if not separator or not name.strip():
            raise click.UsageError(f"'{each}' {wrong}")
        yield name.strip(), value.strip()


def people_in(said: str | None, usual: tuple[str, ...]) -> tuple[str, ...]:
    """Who is at the door, parted by commas; the usual people where nothing was said."""
    return usual if said is None else tuple(part.strip() for part in said.split(",") if part.strip())


@contextmanager
def wanting(missing: str) -> Iterator[None]:
    """What is imported inside needs a package that not everybody has; ``missing`` says how to get it."""
    try:
        yield
    except ModuleNotFoundError as error:
        if error.name is None or error.name.startswith("diagnose"):
            raise
        raise click.ClickException(missing) from None


def on_a_terminal() -> bool:
    """Somebody sits there who sees screens."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def read_text(file: str) -> str:
    """The text of a file, or what is piped in for ``-``; one that cannot be read is a plain fault."""
    if file == "-":
        return sys.stdin.read()
    try:
        return Path(file).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
        raise click.ClickException(f"{file} cannot be read: {reason}.") from None


def write(file: str | Path, made: str | bytes, mend: str = "") -> None:
    """Write what was made to a file, or to the screen for ``-``; a file that cannot be written is a plain fault.

    ``mend`` says what to do then.
    """
    if file == "-":
        click.echo(made, nl=False)
        return
    try:
        Path(file).write_bytes(made if isinstance(made, bytes) else made.encode("utf-8"))
    except OSError as error:
        raise click.ClickException(f"{file} cannot be written: {error.strerror}. {mend}".strip()) from None
    click.echo(f"Written: {file}", err=True)


def write_document(document: Document, files: Mapping[str, str | None], usual: str) -> None:
    """Write a document in each form, by its ending, that a file is named for; else in the usual one to the screen."""
    from diagnose.calls.forms import FORMS

    for form, file in ({form: file for form, file in files.items() if file} or {usual: "-"}).items():
        write(file, FORMS[form](document))
