"""``diagnose calculate``: the trade's arithmetic from the shell."""

from __future__ import annotations

import json
from typing import Any

import click

from diagnose.commands.given import pairs
from diagnose.formulas import Formula, Input, Output, find
from diagnose.formulas.registry import shown
from diagnose.quantities import known_unit, show, to_si
from diagnose.sitting.calculating import by_subject, read_input, source_of, still_wanted


@click.command()
@click.argument("name", required=False)
@click.argument("values", nargs=-1, metavar="[INPUT=VALUE]...")
@click.option("--json", "as_json", is_flag=True, help="Print the result for a program to read.")
def calculate(name: str | None, values: tuple[str, ...], as_json: bool) -> None:
    """Work a formula of the trade. Without NAME, list them; without inputs, say which it takes.

    Values are typed as at the door: 95 ft, 14 AWG, 3 1/8 in. One without a unit is in the unit named.

    \b
    Examples:
      diagnose calculate
      diagnose calculate voltage-drop
      diagnose calculate voltage-drop volts=120 amps=6.2 run="95 ft" gauge=14
    """
    if name is None:
        _list()
        return
    formula = find(name)
    if not values:
        _describe(formula)
        return
    given: dict[str, Any] = {}
    for key, typed in pairs(values, "gives no input a value. Write it like run=95ft."):
        wanted = formula.input(key)
        if wanted.name in given:
            raise click.UsageError(f"'{wanted.name}' is given twice.")
        given[wanted.name] = read_input(wanted, typed)
    result = formula.evaluate(given)
    if as_json:
        units = {output.name: output.unit for output in formula.outputs}
        found = {key: {"value": value, "unit": units.get(key, "")} for key, value in result.values.items()}
        whole = {"formula": formula.name, "working": result.working, "values": found}
        click.echo(json.dumps(whole, ensure_ascii=False))
        return
    click.echo(f"{formula.title}\n")
    for wanted in formula.inputs:
        value = given.get(wanted.name, wanted.default)
        usual = "" if wanted.name in given else " (the usual)"
        click.echo(f"  {wanted.title}: {_shown(value, wanted)}{usual}")
    click.echo()
    for output in formula.outputs:
        if output.name in result.values:
            click.echo(f"  {output.title}: {_both(result.values[output.name], output)}")
    click.echo(f"\n{result.working}\n\nLimits: {formula.limits}\nSource: {source_of(formula)}")


def _list() -> None:
    for subject, formulas in by_subject():
        click.echo(f"\n{subject.capitalize()}")
        for formula in formulas:
            click.echo(f"  {formula.name:<28} {formula.title}")


def _describe(formula: Formula) -> None:
    click.echo(f"{formula.title}\n\nTakes:")
    for each in formula.inputs:
        usual = "" if each.default is None else f"; {_shown(each.default, each)} where not given"
        optional = "; may be left out" if each.optional else ""
        many = ", several parted by spaces or ;" if each.many else ""
        click.echo(f"  {each.name:<16} {each.title}: {each.range()}{many}{usual}{optional}")
    click.echo("Gives:")
    for output in formula.outputs:
        click.echo(f"  {output.name:<16} {output.title}{f', {output.unit}' if output.unit else ''}")
    needed = " ".join(f"{each.name}=…" for each in still_wanted(formula))
    click.echo(f"\nExample: diagnose calculate {formula.name} {needed}")
    click.echo(f"Limits: {formula.limits}\nSource: {source_of(formula)}")


def _shown(value: object, wanted: Input) -> str:
    if value is None:
        return "not given"
    return f"{shown(value)} {wanted.unit}".strip()


def _both(value: object, output: Output) -> str:
    """A result in its unit, and in the other system's where that has another."""
    text = f"{shown(value)} {output.unit}".strip()
    if not isinstance(value, (int, float)) or not output.unit or not known_unit(output.unit):
        return text
    _, bracket, other = show(to_si(float(value), output.unit), output.unit, "both").partition(" (")
    return f"{text} ({other}" if bracket and "open" not in other else text
