"""``diagnose trees``: look a set of trees over, and draw them."""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import msgspec

from diagnose.commands.console import plain
from diagnose.commands.given import known, write
from diagnose.commands.progress import progress
from diagnose.commands.tree_skeletons import new
from diagnose.commands.tree_tables import common, count
from diagnose.knowledge.checker import Book, Rule, Summary, summarise
from diagnose.knowledge.checker import check as look_over
from diagnose.knowledge.kept import Kept
from diagnose.knowledge.learned import read_learned, unfit_problems, with_learned
from diagnose.knowledge.load import learned_file, review_file
from diagnose.knowledge.model import Trees
from diagnose.knowledge.problems import Problem, Problems, TreeError, did_you_mean
from diagnose.knowledge.rules import RULES as OF_WRITING
from diagnose.review import rules, systems
from diagnose.review.undecided import undecided
from diagnose.review.weighing import telling
from diagnose.safety import RULES as OF_SAFETY
from diagnose.safety.invariant import Invariant, Outcome, in_words

if TYPE_CHECKING:
    import networkx


@click.group()
def trees() -> None:
    """Look over the trees, and draw them.

    \b
    Examples:
      diagnose trees check                             the trees in use
      diagnose trees check my-trees --rule too-long    one rule, other trees
      diagnose trees check --list                      every rule
      diagnose trees undecided eye-dead                what a cause does not say yet
      diagnose trees count                             what is known of each system of the job
      diagnose trees common hums-does-not-move         a complaint's commonest causes
      diagnose trees new cause bracket-rusted --system door-arm
      diagnose trees draw eye-lamp-wrong --out eye.svg
      diagnose trees draw eye-volts-far-end            a reading's spreads, in the terminal
    """


trees.add_command(count)
trees.add_command(common)
trees.add_command(new)


@trees.command()
@click.argument("folder", required=False)
@click.option("--rule", "names", multiple=True, metavar="NAME", help="Only this rule; may be given several times.")
@click.option("--list", "listing", is_flag=True, help="Print the rules; with --rule, the page of each.")
@click.option("--json", "as_json", is_flag=True, help="Print what is found for a program to read.")
@click.option("--strict", is_flag=True, help="End with 1 for warnings, too.")
@click.pass_context
def check(
    context: click.Context, folder: str | None, names: tuple[str, ...], listing: bool, as_json: bool, strict: bool
) -> None:
    """Find what is wrong in the trees of FOLDER, or those in use: faults of writing, reasoning and safety.

    Ends with 0 when nothing or only warnings were found (with --strict, nothing), with 1 for errors, and with 2 when
    the trees cannot be read.

    \b
    Examples:
      diagnose trees check
      diagnose trees check my-trees --rule too-long
      diagnose trees check --list --rule indistinguishable
    """
    chosen = _chosen(names)
    if listing:
        _list(chosen, pages=bool(names))
        return
    where = folder or context.obj.trees_folder or context.obj.settings.trees or None
    try:
        book = Book.read(where, Kept(review_file(where, "reasoning", "review", "safety")))
    except TreeError as error:
        if not as_json:
            raise
        click.echo(json.dumps({"unreadable": [_plain(problem) for problem in error.problems]}, ensure_ascii=False))
        context.exit(2)
    problems, outcomes = Problems(), []
    ordered = sorted(chosen, key=lambda rule: isinstance(rule, Invariant))
    said = "What was worked out is kept, and the next check goes on from there."
    with progress("Looking the trees over", len(ordered), kept=said) as show:
        try:
            for number, rule in enumerate(ordered):
                show(rule.name, number)
                if isinstance(rule, Invariant):
                    outcomes.append(rule.prove(book))
                    problems.extend(outcomes[-1].violations)
                else:
                    problems.extend(look_over(book, [rule]))
        except KeyboardInterrupt:
            book.kept.save(so_far=True)
            raise
    problems.extend(_of_learned(book.trees, where))
    if not names:
        book.kept.save()
    found = list(problems)
    if as_json:
        click.echo(json.dumps(_as_data(found, summarise(book), outcomes), ensure_ascii=False))
    else:
        _print(found, summarise(book), outcomes, _undecided_in_words(book.trees))
    context.exit(1 if problems.errors or (strict and found) else 0)


def _of_learned(trees: Trees, folder: str | Path | None) -> Iterable[Problem]:
    """What was learnt of these trees from closed calls, and no longer fits them."""
    file = learned_file(folder)
    unfit = with_learned(trees, read_learned(file))[1]
    return unfit_problems(file, unfit) if unfit else ()


def all_rules() -> tuple[Rule, ...]:
    """Every rule there is: of the writing, of the reasoning, of safety."""
    of_reasoning = [each for module in (rules, systems) for each in vars(module).values() if isinstance(each, Rule)]
    return (*OF_WRITING, *of_reasoning, *OF_SAFETY)


def _chosen(names: Sequence[str]) -> tuple[Rule, ...]:
    rules = {rule.name: rule for rule in all_rules()}
    known("rule", names, rules)
    return tuple(rules[name] for name in dict.fromkeys(names)) or tuple(rules.values())


def _list(rules: Sequence[Rule], pages: bool) -> None:
    for rule in rules:
        if pages:
            click.echo(f"{rule.name} ({rule.severity})\n\n{rule.page}\n")
        else:
            click.echo(f"{rule.name:<26} {rule.severity:<8} {rule.line}")


def _print(found: Sequence[Problem], summary: Summary, outcomes: Sequence[Outcome], undecided: str) -> None:
    for problem in found:
        mark = "" if problem.severity == "error" else "warning: "
        click.echo(plain(f"{problem.place}: {mark}{problem.wrong} {problem.mend} [{problem.rule}]"))
    if found:
        click.echo()
    for line in summary.lines:
        click.echo(plain(line))
    if undecided:
        click.echo(undecided)
    if outcomes:
        click.echo(in_words(outcomes))
    errors = sum(problem.severity == "error" for problem in found)
    click.echo(f"{errors} errors, {len(found) - errors} warnings")


def _undecided_in_words(loaded: Trees) -> str:
    if not loaded.functions:
        return ""
    pairs = undecided(loaded)
    causes = len({pair.cause for pair in pairs})
    return f"{len(pairs)} pairs of cause and check undecided, of {causes} causes: 'diagnose trees undecided'"


def _as_data(found: Sequence[Problem], summary: Summary, outcomes: Sequence[Outcome]) -> dict[str, Any]:
    return {
        "problems": [_plain(problem) for problem in found],
        "counts": dict(summary.counts),
        "numbers": dict(summary.numbers),
        "from_memory": summary.from_memory,
        "caller_texts": summary.caller_texts,
        "untranslated": dict(summary.missing),
        "reviewed": summary.reviewed,
        "safety": [
            {"invariant": outcome.name, "states": outcome.visited, "violations": len(outcome.violations)}
            for outcome in outcomes
        ],
    }


def _plain(problem: Problem) -> dict[str, Any]:
    found = msgspec.to_builtins(problem)
    return {**found.pop("place"), **found}


@trees.command("undecided")
@click.argument("causes", nargs=-1, metavar="[CAUSE]...")
@click.pass_context
def list_undecided(context: click.Context, causes: tuple[str, ...]) -> None:
    """Print the checks that show what a cause takes away, and of which it says nothing.

    Unsaid, such a finding speaks against the cause. Give it a sign, or name the check in the cause's 'as-sound'. The
    causes that it can hurt most come first, and of each the checks that do.

    \b
    Examples:
      diagnose trees undecided
      diagnose trees undecided eye-dead eye-wiring-open
    """
    loaded = context.obj.trees
    known("cause", causes, loaded.causes)
    before = ""
    pairs = undecided(loaded, causes)
    for pair in pairs:
        if pair.cause != before:
            cause = loaded.causes[pair.cause]
            taken = ", ".join(f"{loaded.functions[name].title} ({loss})" for name, loss in cause.takes.items())
            click.echo(plain(f"{loaded.place('causes', cause.id)}: {cause.id}: {cause.title}. Takes: {taken}"))
            before = pair.cause
        check = loaded.checks[pair.check]
        answers = f" [{', '.join(check.answers)}]" if check.answers else f" [{check.unit or 'a number'}]"
        shown = loaded.functions[pair.function].title
        click.echo(plain(f"  {1000 * pair.harm:6.1f}  {check.id}: {check.text}{answers}  shows: {shown}"))
    click.echo(f"{len(pairs)} pairs undecided, of {len({pair.cause for pair in pairs})} causes")


_ENDINGS = {".svg": "svg", ".mmd": "mermaid", ".md": "mermaid", ".dot": "dot", ".gv": "dot", ".txt": "ascii"}


@trees.command()
@click.argument("name", required=False)
@click.option(
    "--format", "form", type=click.Choice(["svg", "mermaid", "dot", "ascii"]), help="By default, what FILE ends in."
)
@click.option("--out", metavar="FILE", type=click.Path(dir_okay=False), help="Write it there, and not to the screen.")
@click.option("--chain", is_flag=True, help="The functions that a symptom hangs on, and the causes that take them.")
@click.option("--all", "every", is_flag=True, help="Everything; long lists are folded in an SVG otherwise.")
@click.pass_context
def draw(context: click.Context, name: str | None, form: str | None, out: str | None, chain: bool, every: bool) -> None:
    """Draw a symptom, a family, a cause, or what a check shows in each state.

    NAME is an id. Without one, every symptom with the causes it raises is drawn. A reading is drawn as its spreads,
    a question as the shares of its answers; those have the formats svg and ascii.

    \b
    Examples:
      diagnose trees draw will-not-close-on-timer --out timer.svg
      diagnose trees draw eye-dead
      diagnose trees draw eye-volts-far-end
      diagnose trees draw hums-does-not-move --chain
    """
    wanted = form or (_ENDINGS.get(Path(out).suffix.lower()) if out else None) or ("svg" if out else "ascii")
    loaded = context.obj.trees
    if name in loaded.checks and not chain:
        text = _drawn_check(loaded, str(name), wanted)
    else:
        text = _drawn_graph(loaded, name, wanted, chain, every)
    if out is None:
        # Nothing that stands in a tree may do anything to the terminal.
        click.echo("\n".join(plain(line) for line in text.splitlines()))
        return
    write(out, text, "Choose another place.")


def _drawn_check(loaded: Trees, name: str, form: str) -> str:
    from diagnose.review.pictures.question import question_svg, question_text
    from diagnose.review.pictures.reading import picture_of, reading_svg, reading_text

    if form not in ("svg", "ascii"):
        raise click.UsageError(f"What a check shows is drawn as svg or ascii, not as {form}.")
    entry, width = loaded.checks[name], _width()
    try:
        if entry.answers:
            return question_svg(loaded, entry) if form == "svg" else question_text(loaded, entry, width)
        if form == "svg":
            return reading_svg(picture_of(loaded, entry, 360))
        return reading_text(picture_of(loaded, entry, max(20, width - 42)), width)
    except ValueError as error:
        raise click.ClickException(str(error)) from None


def _drawn_graph(loaded: Trees, name: str | None, form: str, chain: bool, every: bool) -> str:
    from diagnose.review.pictures.graph_svg import graph_svg
    from diagnose.review.pictures.graph_text import ascii_chain, ascii_graph, dot, mermaid
    from diagnose.review.pictures.layout import folded

    graph, title = _chain(loaded, name) if chain else _graph(loaded, name)
    told = {} if chain else telling(Book(loaded))
    match form:
        case "mermaid":
            return mermaid(graph, title)
        case "dot":
            return dot(graph, title, told)
        case "svg":
            whole = name is None or every or chain
            return graph_svg(graph if whole else folded(loaded, graph, told), title, told)
    return ascii_chain(graph, _width()) if chain else ascii_graph(graph, told, _width())


def _chain(loaded: Trees, name: str | None) -> tuple[networkx.MultiDiGraph, str]:
    from diagnose.knowledge.graph import chain_part

    if name not in loaded.symptoms:
        hint = did_you_mean(name or "", list(loaded.symptoms))
        raise click.UsageError(f"A chain is that of a symptom. {hint}".strip())
    return chain_part(loaded, name), f"What hangs together: {loaded.symptoms[name].title}"


def _graph(loaded: Trees, name: str | None) -> tuple[networkx.MultiDiGraph, str]:
    from diagnose.knowledge.graph import overview, part_for, part_for_cause

    if name is None:
        return overview(loaded), "Symptoms and the causes they raise"
    if name in loaded.symptoms:
        return part_for(loaded, [name]), loaded.symptoms[name].title
    family = [symptom.id for symptom in loaded.symptoms.values() if symptom.family == name]
    if family:
        return part_for(loaded, family), loaded.families[name].title if name in loaded.families else name
    if name in loaded.causes:
        return part_for_cause(loaded, name), loaded.causes[name].title
    there = [*loaded.symptoms, *loaded.families, *loaded.causes, *loaded.checks]
    raise click.UsageError(f"'{name}' is no symptom, family, cause or check. {did_you_mean(name, there)}")


def _width() -> int:
    columns = shutil.get_terminal_size((80, 24)).columns if sys.stdout.isatty() else 80
    return max(60, min(columns, 120))
