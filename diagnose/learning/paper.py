"""A shop's figures as text for a terminal, as one HTML page, and as files for other programs."""

from __future__ import annotations

import csv
import html
from collections.abc import Iterator, Sequence
from pathlib import Path

from diagnose.calls.web_page import web_page
from diagnose.calls.words import Told
from diagnose.learning.plot import calibration_svg
from diagnose.learning.shop import Cell, Shop, Table

_BAR = 8
_STYLE = (
    "body{font:15px/1.5 sans-serif;margin:2rem auto;max-width:60rem;padding:0 1rem}table{border-collapse:collapse}"
    "td,th{padding:.15rem .7rem .15rem 0;text-align:left;vertical-align:top}td.n{text-align:right}"
    ".bar{background:#256;display:inline-block;height:.7em}.note{color:#555}.more,.less{font-weight:bold}"
)


class NoParquet(ValueError):
    """What writes Parquet is not installed; ``str`` says what to do."""


def in_lines(shop: Shop) -> list[Told]:
    """The figures as lines, each table under its heading."""
    lines = [Told("text", f"{shop.calls} closed calls.")]
    for table in shop.tables:
        lines.append(Told("heading", table.title))
        if not table.rows:
            lines.append(Told("text", "Nothing to tell."))
            continue
        lines.extend(Told("item", line) for line in _text_rows(table))
        if table.note:
            lines.append(Told("text", table.note))
    return lines


def _text_rows(table: Table) -> Iterator[str]:
    most = _most(table)
    for row in table.rows:
        shown = [_shown(name, cell) for name, cell in zip(table.columns, row, strict=True) if cell not in ("", None)]
        line = ", ".join(shown)
        if table.bar:
            value = _number(row[table.columns.index(table.bar)])
            line = f"{'█' * round(_BAR * value / most):<{_BAR}} {line}"
        yield line


def _shown(column: str, cell: Cell) -> str:
    if isinstance(cell, float):
        return (
            f"{column} {100 * cell:.0f} %"
            if 0 <= cell <= 1 and column not in ("spent", "moved")
            else f"{column} {cell:g}"
        )
    return f"{cell} {column}" if isinstance(cell, int) else str(cell)


def _number(cell: Cell) -> float:
    return float(cell) if isinstance(cell, (int, float)) else 0.0


def _most(table: Table) -> float:
    if not table.bar:
        return 1.0
    column = table.columns.index(table.bar)
    return max((_number(row[column]) for row in table.rows), default=0.0) or 1.0


def as_html(shop: Shop) -> str:
    """One page that needs nothing else: every table with its bars, and the calibration plot."""
    parts = [f"<h1>The shop</h1><p>{shop.calls} closed calls.</p>"]
    for table in shop.tables:
        parts.append(f"<h2>{html.escape(table.title)}</h2>")
        if table.name == "calibration" and shop.calibration:
            parts.append(f'<div style="width:26rem">{calibration_svg(shop.calibration)}</div>')
        parts.append(_html_table(table) if table.rows else "<p>Nothing to tell.</p>")
        if table.note:
            parts.append(f'<p class="note">{html.escape(table.note)}</p>')
    body = "\n".join(parts)
    return web_page("The shop", _STYLE, body)


def _html_table(table: Table) -> str:
    most, rows = _most(table), []
    for row in table.rows:
        cells = "".join(
            f'<td class="n">{cell}</td>'
            if isinstance(cell, (int, float))
            else f"<td>{html.escape(str(cell or ''))}</td>"
            for cell in row
        )
        bar = ""
        if table.bar:
            width = 10 * _number(row[table.columns.index(table.bar)]) / most
            bar = f'<td><span class="bar" style="width:{width:.2f}rem"></span></td>'
        rows.append(f"<tr>{cells}{bar}</tr>")
    heads = "".join(f"<th>{html.escape(column)}</th>" for column in table.columns)
    return f"<table><tr>{heads}</tr>{''.join(rows)}</table>"


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
