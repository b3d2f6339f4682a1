"""``diagnose shop``: what the closed calls come to, in the terminal, as a page, and as files for other programs."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from diagnose.cli import Session
from diagnose.commands.given import write_document


@click.command()
@click.option("--since", type=click.DateTime(["%Y-%m-%d"]), metavar="DAY", help="Calls closed on this day or later.")
@click.option("--html", "page", metavar="FILE", help="Write one page, with charts.")
@click.option("--csv", "csv_folder", metavar="FOLDER", type=click.Path(path_type=Path), help="Write a CSV a table.")
@click.option("--parquet", metavar="FOLDER", type=click.Path(path_type=Path), help="Write a Parquet file a table.")
@click.pass_obj
def shop(
    session: Session, since: datetime | None, page: str | None, csv_folder: Path | None, parquet: Path | None
) -> int:
    """Print the shop's figures: causes, first-visit repairs, minutes against the promise, parts, doors that come back.

    A rate is marked as more or less only where it lies beyond what chance allows. Exit code 1 says that no call is
    closed yet.

    \b
    Examples:
      diagnose shop
      diagnose shop --since 2031-01-01 --html shop.html
      diagnose shop --csv figures
    """
    from diagnose.commands.learn import caught_up
    from diagnose.learning import paper
    from diagnose.learning.shop import shop as figures_of

    figures = figures_of(session.trees, caught_up(session), since.date() if since else None)
    try:
        for folder, write in ((csv_folder, paper.write_csv), (parquet, paper.write_parquet)):
            if folder is not None:
                click.echo(f"Written: {len(write(figures, folder))} files in {folder}")
    except OSError as error:
        raise click.ClickException(f"{error.filename} cannot be written: {error.strerror}.") from None
    if page or not (csv_folder or parquet):
        write_document(paper.shop_document(figures), {".html": page}, ".txt")
    return 0 if figures.calls else 1
