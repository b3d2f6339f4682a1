"""A talk line by line: whatever is typed is an answer, or one of the words that do something instead."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from diagnose.calls.words import Told
from diagnose.commands.choosing import MOST_LISTED, narrowed, pick
from diagnose.commands.console import Console, say_all
from diagnose.finding.reading import Reader
from diagnose.knowledge.model import Caution


class Moved(Exception):
    """Something changed: what comes next is to be looked up anew."""


class Left(Exception):
    """The person wants to stop here, all as it is."""


def nothing(rest: str) -> bool:
    """A word fits that has nothing behind it."""
    return not rest


@dataclass(frozen=True)
class Command:
    """A word that may be typed in place of an answer: what it does with the words behind it, and what it is for.

    Where the words behind it do not ``fit``, all of it is an answer.
    """

    do: Callable[[str], None]
    help: str
    fit: Callable[[str], Any] = lambda rest: True


class Lines:
    """``_commands`` are the words; ``/word`` is always the command, even where the word is an answer."""

    def __init__(self, console: Console, reader: Reader | None = None) -> None:
        """``reader`` knows what the trade's words mean, for choosing by words."""
        self.console = console
        self._reader = reader
        self._commands: dict[str, Command] = {}
        self._aliases: dict[str, str] = {}

    def _line(self, prompt: str, exact: Sequence[str] = (), empty: bool = False) -> str:
        """A line that is no command. Commands are done here; one that changes things raises ``Moved``.

        ``exact`` are answers that win over a command of the same name; ``empty`` lets an empty line through.
        """
        answers = {answer.casefold() for answer in exact}
        while True:
            typed = self.console.ask(prompt)
            command, rest = self._as_command(typed, answers)
            if command is not None:
                command.do(rest)
            elif typed.strip() or empty:
                return typed
            else:
                self.console.say("Nothing was typed. Type help to see what can be.")

    def _any_line(self, prompt: str) -> str:
        return self._line(prompt, empty=True)

    def _as_command(self, typed: str, exact: set[str]) -> tuple[Command | None, str]:
        text = typed.strip()
        word, _, rest = text.lstrip("/").partition(" ")
        command = self._commands.get(self._aliases.get(word.casefold(), word.casefold()))
        if command is None or (text.casefold() in exact and not text.startswith("/")) or not command.fit(rest.strip()):
            return None, ""
        return command, rest.strip()

    def one_of(self, texts: Sequence[str], prompt: str = "Then:", empty: bool = False) -> int:
        """Which of a numbered list: its number, or the start of one; ``None`` for an empty line where that may be."""
        self.console.choices(texts)
        while True:
            typed = self._line(prompt, empty=empty).strip()
            chosen = pick(typed, texts)
            if chosen is not None or (empty and not typed):
                return chosen  # type: ignore[return-value]
            self.console.say(f"Type a number from 1 to {len(texts)}{', or Enter for none' if empty else ''}.")

    def _narrowed(self, prompt: str, texts: Sequence[str], words: str, listed: int | None = MOST_LISTED) -> int | None:
        return narrowed(self.console, self._any_line, prompt, texts, words, listed, self._reader)

    def _help(self, _: str) -> None:
        self.console.say("Type an answer, or one of these words (/word where the word is an answer too):")
        for name, command in self._commands.items():
            self.console.say(f"  {name}: {command.help}", hang=4)

    def _tell(self, lines: Sequence[Told]) -> None:
        say_all(self.console, lines)

    def _say_cautions(self, cautions: Iterable[Caution]) -> None:
        for caution in cautions:
            self.console.say(f"{caution.word}: {caution.text}")

    def _copy(self, text: str, what: str) -> None:
        done = self.console.copy(text)
        self.console.say(f"Copied: {what}." if done else "This is no terminal: there is no clipboard to copy to.")

    def _quit(self, _: str) -> None:
        raise Left
