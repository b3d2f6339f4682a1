"""Lines in and lines out: no colour, no cursor, wrapped to the width; good for a screen reader, ssh and scripts."""

from __future__ import annotations

import base64
import shutil
import sys
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, TextIO

if TYPE_CHECKING:
    from diagnose.calls.document import Document
    from diagnose.calls.words import Told

_NARROWEST, _WIDEST = 20, 100


class EndOfInput(Exception):
    """There is no further line to read."""


class Console:
    """Where a person, or a script, is talked with. What is read from a file is echoed, so that the log reads well."""

    def __init__(self, width: int = 0, source: TextIO | None = None, target: TextIO | None = None) -> None:
        self._source = source or sys.stdin
        self._target = target or sys.stdout
        self._echo = not self._source.isatty()
        columns = shutil.get_terminal_size((80, 24)).columns
        self.width = width or max(_NARROWEST, min(columns, _WIDEST))

    def say(self, text: str = "", hang: int = 0) -> None:
        """A paragraph; its later lines are set in by ``hang`` columns."""
        wrapped = textwrap.wrap(plain(text), self.width, subsequent_indent=" " * hang, break_on_hyphens=False)
        self._target.write("\n".join(wrapped) + "\n")

    def apart(self, text: str, hang: int = 0) -> None:
        """A paragraph with an empty line before it."""
        self.say()
        self.say(text, hang)

    def draw(self, row: str) -> None:
        """A row of a picture in characters, its blanks kept."""
        self._target.write(f"{plain(row)}\n")

    def read(self, document: Document) -> None:
        """A document, its tables row by row."""
        from diagnose.calls.document import text_of

        for line in text_of(document, self.width, by_rows=True).splitlines():
            self.draw(line)

    def choices(self, texts: Sequence[str]) -> None:
        for number, text in enumerate(texts, start=1):
            head = f"{number:>3}. "
            self.say(head + text, hang=len(head))

    def ask(self, prompt: str) -> str:
        """A line typed. Raises ``EndOfInput``."""
        self._target.write(f"{prompt} ")
        self._target.flush()
        line = self._source.readline()
        if not line:
            self._target.write("\n")
            raise EndOfInput
        # A lone half of a character, from a terminal in another encoding, could not be written down.
        typed = line.rstrip("\r\n").encode("utf-8", "replace").decode("utf-8")
        if self._echo:
            self._target.write(f"{plain(typed)}\n")
        return typed

    def copy(self, text: str) -> bool:
        """To the clipboard, which the terminal is asked for (OSC 52 of xterm); false where there is no terminal."""
        if not self._target.isatty():
            return False
        self._target.write(f"\x1b]52;c;{base64.b64encode(text.encode()).decode()}\a")
        self._target.flush()
        return True


def plain(text: str) -> str:
    """Text that can do nothing to a terminal but stand there."""
    return "".join(letter if letter.isprintable() else " " if letter.isspace() else "�" for letter in text)


def say_all(console: Console, lines: Sequence[Told]) -> None:
    """Lines as they are told, headings with a line before them."""
    for line in lines:
        if line.kind == "drawn":
            console.draw(line.text)
            continue
        if line.kind == "heading":
            console.say()
        console.say(f"  {line.text}" if line.kind == "item" else line.text, hang=4 if line.kind == "item" else 0)
