"""The shell's door: which commands there are, what is common to them, and how each of them ends.

A command's module is imported only when it is used. 0 is "done", 1 is "done, and the answer is no", 2 is "this cannot
be done so": then one plain sentence says why.
"""

from __future__ import annotations

import gc
import importlib
import os
import sys
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from diagnose import __version__

if TYPE_CHECKING:
    from diagnose.calls.call import Call
    from diagnose.calls.store import Store
    from diagnose.knowledge.model import Trees
    from diagnose.settings import Settings

# What is multiplied here is small: threads that share it out wait for each other longer than the work takes.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Command → what it is for. It is the click command of its name in the module of its name among the commands.
COMMANDS = {
    "ask": "Find the cause by an interview, line by line.",
    "run": "Answer calls from files.",
    "commission": "Put a door up or look it over, in order, and hand it over proved.",
    "call": "Take a phone call: danger first, then a few questions, then the dispatch sheet.",
    "screen": "Screen the calls of a CSV or JSON file.",
    "report": "Write the record of a call.",
    "door": "Keep what is known of a door, and find it again.",
    "log": "List the calls on record.",
    "sync": "Bring this machine's calls and the shop's together.",
    "store": "For whoever runs a shop's store: the rights of its users.",
    "schema": "Print the JSON Schema of a call, a door, a sheet or requests.",
    "glossary": "Say what a thing on a door is, where it sits and what it looks like.",
    "calculate": "Work a formula of the trade.",
    "practise": "Practise on a door broken on purpose.",
    "scenario": "Check scenarios, veil and reveal them.",
    "trees": "Look over the trees, and draw them.",
    "evaluate": "Print how right, how quick and how sure of itself the program is.",
    "learn": "Learn from closed calls.",
    "shop": "What the closed calls come to.",
    "serve": "The same screens in a browser.",
    "settings": "Show the settings, or change some.",
}
# Faults a person can mend: their text says how, and is all that is shown.
_PLAIN = frozenset(
    {
        "diagnose.calls.answering.AnswerError",
        "diagnose.calls.call.CallError",
        "diagnose.calls.doors.DoorError",
        "diagnose.calls.exchange.ExchangeError",
        "diagnose.calls.pdf.PdfError",
        "diagnose.calls.faults.StoreError",
        "diagnose.formulas.registry.FormulaError",
        "diagnose.knowledge.problems.TreeError",
        "diagnose.learning.paper.NoParquet",
        "diagnose.quantities.quantity.QuantityError",
        "diagnose.settings.SettingsError",
    }
)


@dataclass
class Session:
    """What every command may need, each thing loaded when it is first asked for."""

    trees_folder: str | None
    store_location: str | None

    @cached_property
    def settings(self) -> Settings:
        """The user's settings; faults of the file are named, and what can be read of it is used."""
        from diagnose.settings import load_settings

        settings, problems = load_settings()
        for problem in problems:
            click.echo(str(problem), err=True)
        return settings

    @cached_property
    def trees(self) -> Trees:
        from diagnose.knowledge.load import load_trees

        return load_trees(self.folder, learned=self.learned)

    @property
    def folder(self) -> str | None:
        """The folder of the trees, ``None`` for those that ship."""
        return self.trees_folder or self.settings.trees or None

    @property
    def learned(self) -> Path:
        """Where what the shop has learnt of these trees is kept."""
        from diagnose.knowledge.load import learned_file

        return learned_file(self.folder)

    @cached_property
    def store(self) -> Store:
        from diagnose.calls.store import Store

        return Store.open(self.where or None)

    @property
    def where(self) -> str:
        """Where calls are kept, as far as anybody said."""
        return self.store_location or os.environ.get("DIAGNOSE_STORE") or self.settings.store

    def kept_call(self, call_id: str, by: str) -> Call:
        """A call that is kept, to go on with: whatever is said to it is kept too."""
        from diagnose.calls.call import Call

        store = self.store
        return Call(self.trees, history=store.events(call_id), recorder=store.recorder(call_id), by=by)

    def open_screens(self, settings: Settings, **given: Any) -> None:
        """The screens with the same trees and calls, until their user leaves; ``given`` as ``tui.app.run`` takes it."""
        # What is loaded up to the first screen stays: to look for garbage meanwhile only takes time.
        gc.disable()
        try:
            from diagnose.tui.app import run

            self.close()
            run(self.folder, self.where or None, settings, **given)
        finally:
            gc.enable()

    def close(self) -> None:
        if "store" in self.__dict__:
            self.store.close()


class _Commands(click.Group):
    """Commands by name, imported when used."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        command = getattr(importlib.import_module(f"diagnose.commands.{cmd_name}"), cmd_name)
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError:
            from diagnose.knowledge.problems import did_you_mean

            hint = did_you_mean(args[0], COMMANDS)
            raise click.UsageError(f"'{args[0]}' is no command. {hint}", ctx) from None


@click.group(cls=_Commands, invoke_without_command=True, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, "--version", message="diagnose %(version)s")
@click.option("--trees", "trees_folder", metavar="FOLDER", help="Trees in place of those that ship.")
@click.option("--store", "store_location", metavar="PLACE", help="File or URL where calls are kept.")
@click.option("--site", default="", help="Where the door of a new call is.")
@click.option("--door", default="", help="Which door it is.")
@click.option("--by", default="", help="Who is asking; kept with every answer.")
@click.pass_context
def cli(
    context: click.Context, trees_folder: str | None, store_location: str | None, site: str, door: str, by: str
) -> None:
    """Find out what is wrong with a motorised door, mend it, prove it safe, and leave a record.

    Without a command the screens open. Local codes, the maker's instructions and licensed practice come first.

    \b
    Examples:
      diagnose                                 the screens
      diagnose ask                             the same interview, line by line
      diagnose --store shop.sqlite3 log        calls kept in another file
    """
    context.obj = Session(trees_folder, store_location)
    context.call_on_close(context.obj.close)
    if context.invoked_subcommand is None:
        _open_screens(context.obj, site, door, by)
    elif site or door or by:
        raise click.UsageError(f"Say --site, --door and --by after the command: diagnose {context.invoked_subcommand}")


def _open_screens(session: Session, site: str, door: str, by: str) -> None:
    in_browser = "web_driver" in os.environ.get("TEXTUAL_DRIVER", "")
    if not (in_browser or (sys.stdin.isatty() and sys.stdout.isatty())):
        raise click.UsageError("The screens need a terminal. 'diagnose ask' does the same interview line by line.")
    from msgspec.structs import replace

    session.open_screens(replace(session.settings, by=by or session.settings.by), site=site, door=door)


def main(arguments: list[str] | None = None) -> int:
    """Run a command and return its exit code. Whatever happens, no traceback is shown."""
    for stream in (sys.stdin, sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace", **({} if stream is sys.stdin else {"encoding": "utf-8"}))
    try:
        code = cli.main(arguments, prog_name="diagnose", standalone_mode=False)
        sys.stdout.flush()
    except click.ClickException as error:
        error.show()
        return 2
    except (click.Abort, KeyboardInterrupt, EOFError):
        click.echo("\nStopped.", err=True)
        return 1
    except (BrokenPipeError, SystemExit):
        # Whoever read our output has seen enough; click leaves by SystemExit then, and only then.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:
        if any(f"{kind.__module__}.{kind.__qualname__}" in _PLAIN for kind in type(error).__mro__):
            click.echo(str(error), err=True)
        else:
            click.echo(_unexpected(error), err=True)
        return 2
    return code if isinstance(code, int) else 0


def _unexpected(error: Exception) -> str:
    """Keep the traceback in a file, and say what to do with it."""
    import traceback
    from datetime import UTC, datetime

    from platformdirs import user_log_path

    file = Path(os.environ.get("DIAGNOSE_LOG") or user_log_path("diagnose") / "faults.log")
    moment = datetime.now(UTC).isoformat(timespec="seconds")
    sentence = f"This should not have happened: {type(error).__name__}. What was recorded is safe."
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        with file.open("a", encoding="utf-8", errors="replace") as log:
            log.write(f"{moment} diagnose {__version__}\n{''.join(traceback.format_exception(error))}\n")
    except OSError:
        return sentence
    return f"{sentence} {file} says more; send it with a word of what you were doing."
