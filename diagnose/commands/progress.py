"""How far something long has come: a bar on the terminal, nothing where there is none; stopped at any time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO

import click


@contextmanager
def progress(
    what: str, of: int | None = None, *, kept: str = "", target: TextIO | None = None
) -> Iterator[Callable[[str, int], None]]:
    """Inside, call what is given with a word on what is done now and how many of ``of`` are done.

    ``kept`` is what remains of the work where somebody stops it (Ctrl+C): it is said with how far it came, and
    ``click.Abort`` raised.
    """
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    console = Console(file=target) if target is not None else Console(stderr=True)
    bar = Progress(
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        console=console,
        transient=True,
        disable=not console.is_terminal,
    )
    at = [what, 0]

    def show(now: str, done: int) -> None:
        at[:] = now, done
        bar.update(task, description=f"{what}: {now}" if now else what, completed=done)

    try:
        with bar:
            task = bar.add_task(what, total=of)
            yield show
    except KeyboardInterrupt:
        share = f" after {at[1]} of {of}" if of else ""
        click.echo(f"{what}: stopped{share}. {kept or 'Nothing was changed.'}", err=True)
        raise click.Abort from None
