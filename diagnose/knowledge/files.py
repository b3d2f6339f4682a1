"""Files read and written whole; what is wrong with one is told as a problem of it."""

from __future__ import annotations

import tempfile
from pathlib import Path

from diagnose.knowledge.problems import Place, Problems


def file_text(path: Path, name: str, problems: Problems, mend: str, rule: str) -> str | None:
    """The text of a file; ``None`` where it cannot be read, which is said of ``name`` with ``mend``."""
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
        problems.error(Place(name, 1), f"This file cannot be read: {reason}.", mend, rule)
        return None


def write_whole(file: Path, content: bytes) -> None:
    """Write a file under another name first, so that it is there whole or not at all. Raises ``OSError``."""
    file.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.NamedTemporaryFile(dir=file.parent, delete=False, suffix=".draft") as draft:
        draft.write(content)
    Path(draft.name).replace(file)
