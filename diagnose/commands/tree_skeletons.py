"""``diagnose trees new``: a cause, check or remedy begun in the file it belongs to, with a word on each line of it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

import click

from diagnose.commands.console import plain
from diagnose.commands.given import known
from diagnose.knowledge.checker import Book, check
from diagnose.knowledge.rules import RULES
from diagnose.shipped import shipped_folder

_CAUSE = """\
  {id}:
    title: {title}  # what is wrong, as one technician says it to another
    # explain: how it comes about and what it does, in two sentences
    # applies: {{drive: trolley}}  # only on such doors: a fact, and the values of it
    base: 1 per 1000 calls  # of all a shop's calls, those with this cause: compare 'diagnose trees common'
    # symptoms: {{COMPLAINT: probable}}  # what is complained of, and how many of the doors with this cause are
    # takes: {{FUNCTION: lost}}  # what no longer works: lost, weak, unwanted, or at times
    # signs:  # what a check shows, where that is not what a sound door shows
    #   QUESTION: {{ANSWER: almost-certain}}
    #   READING: {{at-least: [BEGINS TO SHOW, SURELY SHOWS]}}
    # as-sound: [CHECK]  # checks that show what it takes, and look as on a sound door all the same
    # remedies: [REMEDY]  # what removes it
"""
_CHECK = """\
  {id}:
    ask: {title}?  # or 'measure:', with unit, plausible and worse; or 'compute:', with formula and inputs
    answers: ['yes', 'no']  # 'could not tell' is always offered besides
    healthy: {{'yes': always}}  # what a sound door shows; a reading: {{normal: [24 V, 1 V]}}
    # caller:  # how a layman may be asked: from the floor, hands off
    #   ask: the same in a layman's words
    # how: one to three sentences that a trainee can follow
    minutes: 1
    # tool: multimeter  # leave out where bare eyes do
    # who: technician
    # energy: any  # the state the door is in while it is done: see 'energy:' in the trees
    # access: floor
    # cautions: [CAUTION]
    # after: {{CHECK: ANSWER}}  # what comes before it, for safety or sense
    # group: GROUP  # checks that see one and the same thing
    # applies: {{drive: trolley}}
"""
_REMEDY = """\
  {id}:
    title: {title}  # what is done, as an order
    # how: what to do, short; never how to wind or unwind a spring
    minutes: 15
    # works: almost-certain  # how surely it removes the cause when the cause is there
    # parts: {{PART: 1}}
    # who: technician
    # energy: any  # the state the door is in while it is done: see 'energy:' in the trees
    # access: floor
    # cautions: [CAUTION]
    # proofs: [PROOF]  # what has to be shown afterwards, beside what each such door has to show
    # applies: {{drive: trolley}}
"""
_SKELETONS = {"cause": _CAUSE, "check": _CHECK, "remedy": _REMEDY}
_KINDS = {"cause": "causes", "check": "checks", "remedy": "remedies"}
_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")


@click.command()
@click.argument("kind", type=click.Choice(list(_KINDS)))
@click.argument("identity", metavar="ID")
@click.option("--file", "name", metavar="FILE", help="The file of the trees to write it to; a new one is begun.")
@click.option("--system", metavar="SYSTEM", help="Write it to the file of this system of the job.")
@click.pass_context
def new(context: click.Context, kind: str, identity: str, name: str | None, system: str | None) -> None:
    """Begin a cause, a check or a remedy called ID, in place, with a word on every line that can be filled in.

    It goes to FILE below the folder of the trees, or to the file whose top says 'system: SYSTEM'. What has a '#' before
    it is optional: fill it in and take the '#' away. Then it says what the entry still wants.

    \b
    Examples:
      diagnose --trees my-trees trees new cause bracket-rusted --file bracket.yaml
      diagnose trees new check bracket-looks --system door-arm
    """
    root = Path(context.obj.trees_folder or context.obj.settings.trees or shipped_folder("trees"))
    book = Book.read(root)
    section = _KINDS[kind]
    if not _ID.fullmatch(identity):
        raise click.UsageError(f"'{plain(identity)}' is no id. Write small letters and hyphens: 'bracket-rusted'.")
    if identity in book.entries(section):
        raise click.UsageError(f"'{identity}' is there already: {book.trees.place(section, identity)}.")
    known("system", [system] if system is not None else [], book.trees.systems)
    file = _file(root, name) if name is not None else _file_of(book, system)
    before = (root / file).read_text(encoding="utf-8") if (root / file).exists() else None
    entry = _SKELETONS[kind].format(id=identity, title=_title(identity))
    if system is not None and kind != "remedy" and system != _system_of(book, file):
        head, _, rest = entry.partition("\n    ")
        entry = f"{head}\n    system: {system}\n    {rest}"
    _write(root / file, with_entry(before or "source: estimate\n", section, entry))
    after = Book.read(root)
    click.echo(f"{plain(str(root / file))}:{after.trees.place(section, identity).line}: '{identity}' is begun.")
    told = [each for each in check(after, RULES) if f"'{identity}'" in each.wrong]
    for problem in told:
        click.echo(plain(f"  {problem.wrong} {problem.mend}"))
    click.echo("Fill it in, then: diagnose trees check")


def with_entry(text: str, section: str, entry: str) -> str:
    """A file with one more entry at the end of a section, which is begun where there is none. Nothing else changes."""
    lines = text.splitlines()
    tops = [number for number, line in enumerate(lines) if line[:1] not in ("", " ", "\t", "#", "-")]
    starts = [number for number in tops if re.fullmatch(rf"{section}:\s*(#.*)?", lines[number])]
    if not starts and any(lines[number].startswith(f"{section}:") for number in tops):
        raise click.ClickException(f"'{section}' stands on one line in this file. Give each entry its own, or --file.")
    added = entry.rstrip("\n").splitlines()
    if not starts:
        return "\n".join([*lines, "", f"{section}:", *added, ""])
    end = next((number for number in tops if number > starts[0]), len(lines))
    # What stands above the next section, not indented, belongs to that one.
    while end - 1 > starts[0] and (not lines[end - 1].strip() or lines[end - 1].startswith("#")):
        end -= 1
    return "\n".join([*lines[:end], *added, *lines[end:], ""])


def _title(identity: str) -> str:
    words = identity.replace("-", " ")
    return words[0].upper() + words[1:]


def _file(root: Path, name: str) -> str:
    """The file's name below the folder of the trees; nothing is written elsewhere."""
    given = name if name.endswith(".yaml") else f"{name}.yaml"
    inside = (root / given).resolve()
    if not inside.is_relative_to(root.resolve()):
        raise click.UsageError(f"{given} is not in the folder of these trees, {root}.")
    return inside.relative_to(root.resolve()).as_posix()


def _file_of(book: Book, system: str | None) -> str:
    if system is None:
        raise click.UsageError("Say where it goes: --file FILE, or --system SYSTEM.")
    found = next((name for name in book.documents if _system_of(book, name) == system), None)
    if found is None:
        raise click.UsageError(f"No file is of the system '{system}' as a whole. Give --file FILE besides.")
    return found


def _system_of(book: Book, file: str) -> str | None:
    top: Mapping[str, object] = book.documents[file].value if file in book.documents else {}
    system = top.get("system")
    return system if isinstance(system, str) else None


def _write(file: Path, text: str) -> None:
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        raise click.ClickException(
            f"{file} cannot be written: {error.strerror}. Copy the trees, and use --trees."
        ) from None
