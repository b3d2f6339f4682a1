"""``diagnose store``: what whoever runs a shop's store needs."""

from __future__ import annotations

import click

from diagnose.cli import Session


@click.group()
def store() -> None:
    """For whoever runs a shop's store."""


@store.command(short_help="Print the SQL that gives users their rights.")
@click.option("--schema", default="public", metavar="NAME", help="Where the tables are, if not in 'public'.")
@click.pass_obj
def grants(session: Session, schema: str) -> int:
    """Print the SQL that makes the roles technician, office and reader in a PostgreSQL store.

    The store's tables are made first, where they are not there yet. Technicians and the office add calls, entries and
    doors; the office also settles what two recorded differently; readers read. Nobody changes an entry.

    \b
    Example:
      diagnose --store postgresql://shop.example/diagnose store grants | psql --host shop.example diagnose
    """
    from diagnose.calls.grants import grants as written
    from diagnose.learning.records import Lessons
    from diagnose.practice.records import Records

    if not schema.replace("_", "").isalnum():
        raise click.UsageError(f"'{schema}' is no name of a schema: letters, figures and _ only.")
    if not session.store.where.startswith("postgresql"):
        raise click.UsageError("Rights are for a store on PostgreSQL: say it with --store URL before the command.")
    Records.of(session.store)
    Lessons.of(session.store)
    click.echo(written(schema), nl=False)
    return 0
