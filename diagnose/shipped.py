"""Where the trees and scenarios that ship are: inside an installed wheel, or beside the code in a checkout."""

from __future__ import annotations

from pathlib import Path


def shipped_folder(name: str) -> Path:
    """The folder ``trees`` or ``scenarios`` that came with this program."""
    package = Path(__file__).parent
    inside = package / "_shipped" / name
    return inside if inside.is_dir() else package.parent / name
