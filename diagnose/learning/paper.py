"""A shop's figures as a document, and as files for other programs."""

from __future__ import annotations

import csv
import itertools
from collections.abc import Iterator, Sequence
from pathlib import Path

from diagnose.calls import document
from diagnose.calls.document import Block, Document, Heading, Line, Picture, soft
from diagnose.learning.plot import calibration_svg
from diagnose.learning.shop import Cell, Shop, Table

# The letters of the longest bar, and how many tables stand on the first page.
_BAR, _ON_THE_FIRST = 8, 2


class NoParquet(ValueError):
    """What writes Parquet is not installed; ``str`` says what to do."""


def shop_document(shop: Shop) -> Document:
    """The figures, how calls ended and why on the first page."""
    blocks = [list(_blocks(shop, table)) for table in shop.tables]
    first = [Heading("The shop", 1), Line(f"{shop.calls} closed calls."), *itertools.chain(*blocks[:_ON_THE_FIRST])]
    return Document("The shop", tuple(first), tuple(itertools.chain(*blocks[_ON_THE_FIRST:])))


def _blocks(shop: Shop, table: Table) -> Iterator[Block]:
    yield Heading(table.title)
    if table.name == "calibration" and shop.calibration:
        yield Picture(calibration_svg(shop.calibration), "", table.title)
    if not table.rows:
        yield Line("Nothing to tell.")
        return
    bar = [_number(row[table.columns.index(table.bar)]) for row in table.rows] if table.bar else []
    most = max(bar, default=0.0) or 1.0
    rows = [[soft(_shown(*each)) for each in zip(table.columns, row, strict=True)] for row in table.rows]
    rows = [[*row, "█" * round(_BAR * value / most)] for row, value in zip(rows, bar, strict=True)] if bar else rows
    # Columns of figures are as wide as these; those of words share what is left.
    widths = [int(any(isinstance(cell, str) for cell in column)) for column in zip(*table.rows, strict=True)]
    head = (*table.columns, *([""] if bar else []))
    yield document.Table(head, tuple(map(tuple, rows)), (*widths, *([0] if bar else [])))
    if table.note:
        yield Line(table.note, "small")


def _shown(column: str, cell: Cell) -> str:
    if isinstance(cell, float):
        return f"{100 * cell:.0f} %" if 0 <= cell <= 1 and column not in ("spent", "moved") else f"{cell:g}"
    return "" if cell is None else str(cell)


def _number(cell: Cell) -> float:
    return float(cell) if isinstance(cell, (int, float)) else 0.0


def write_csv(shop: Shop, folder: Path) -> list[Path]:
    """A file for each table that has rows. Raises ``OSError``."""
    folder.mkdir(parents=True, exist_ok=True)
    files = []
    for table in shop.tables:
        file = folder / f"{table.name}.csv"
        with file.open("w", newline="", encoding="utf-8") as out:
            writer = csv.writer(out)
            writer.writerow(table.columns)
            writer.writerows(_harmless(row) for row in table.rows)
        files.append(file)
    return files


def _harmless(row: Sequence[Cell]) -> list[Cell]:
    """Text that a spreadsheet would take for a formula is marked as text."""
    return [f"'{cell}" if isinstance(cell, str) and cell[:1] in ("=", "+", "-", "@") else cell for cell in row]


def write_parquet(shop: Shop, folder: Path) -> list[Path]:
    """The same as Parquet. Raises ``OSError``, and ``NoParquet`` where the package for it is missing."""
    try:
        import pyarrow
        import pyarrow.parquet as parquet
    except ModuleNotFoundError:
        raise NoParquet("Parquet needs the Python package 'pyarrow': pip install 'diagnose[parquet]'.") from None
    folder.mkdir(parents=True, exist_ok=True)
    files = []
    for table in shop.tables:
        if not table.rows:
            continue
        columns = dict(zip(table.columns, map(list, zip(*table.rows, strict=True)), strict=True))
        file = folder / f"{table.name}.parquet"
        parquet.write_table(pyarrow.table(columns), file)
        files.append(file)
    return files
