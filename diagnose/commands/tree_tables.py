"""Tables of what the trees hold: the systems of the job, and the commonest causes of each complaint."""

from __future__ import annotations

import json

import click

from diagnose.commands.console import plain
from diagnose.commands.given import known
from diagnose.finding.complaints import families_by_use
from diagnose.review.commonest import commonest
from diagnose.review.systems import LEAST, systems, without


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Print the table for a program to read.")
@click.pass_context
def count(context: click.Context, as_json: bool) -> None:
    """Count what is known of each system of the job: causes, checks, proofs due after work on it, practice calls.

    A cause, a check or a proof says of which system it is by 'system:', its own or that of its file's top. Of each
    system there are to be four causes, six checks, a proof and a practice call. Its share is that of its causes'
    base rates in 100 calls; '!' beside it says that the system names another.

    \b
    Examples:
      diagnose trees count
      diagnose trees count --json
    """
    loaded = context.obj.trees
    found = systems(loaded)
    unsaid = without(loaded)
    if as_json:
        table = [
            {"system": each.id, "title": each.title, **each.counts, "share": each.share, "short of": each.short_of}
            for each in found
        ]
        click.echo(json.dumps({"systems": table, "causes of no system": unsaid}, ensure_ascii=False))
        return
    if not found:
        click.echo("These trees name no systems. Write 'systems:' lines, and 'system:' in causes, checks and proofs.")
        return
    wide = max(len(plain(each.title)) for each in found)
    click.echo(f"{'':{wide}}  {'  '.join(LEAST)}  of 100")
    for each in found:
        cells = (f"{each.counts[name]:>{len(name)}}{'!' if name in each.short_of else ' '}" for name in LEAST)
        said = loaded.systems[each.id].share
        amiss = "!" if said and not said[0] <= each.share <= said[1] else " "
        click.echo(f"{plain(each.title):{wide}}  {' '.join(cells)} {100 * each.share:>6.1f}{amiss}".rstrip())
    click.echo()
    least = ", ".join(f"{number} {name}" for name, number in LEAST.items())
    short = sum(bool(each.short_of) for each in found)
    click.echo(f"{len(found)} systems; {short} with too little somewhere (!). The least there is to be: {least}.")
    if unsaid:
        click.echo(plain(f"{len(unsaid)} causes are of no system: {', '.join(unsaid)}."))


@click.command()
@click.argument("complaints", nargs=-1, metavar="[COMPLAINT]...")
@click.option("--most", default=10, show_default=True, type=click.IntRange(1, 100), help="How many of each.")
@click.option("--json", "as_json", is_flag=True, help="Print them for a program to read.")
@click.pass_context
def common(context: click.Context, complaints: tuple[str, ...], most: int, as_json: bool) -> None:
    """Print the commonest causes of each complaint, by family, as a call begins: nothing is known of the door.

    For somebody who has mended many: nod, or laugh and change a base rate. A rate counts calls with that cause among
    all calls; it is taken in proportion to the others, none of which need be changed with it.

    \b
    Examples:
      diagnose trees common hums-does-not-move
      diagnose trees common --most 5
    """
    loaded = context.obj.trees
    known("symptom", complaints, loaded.symptoms)
    in_order = [each.id for family in families_by_use(loaded).values() for each in family]
    found = {name: commonest(loaded, name, most) for name in complaints or in_order}
    if as_json:
        table = {name: [each._asdict() for each in causes] for name, causes in found.items()}
        click.echo(json.dumps(table, ensure_ascii=False))
        return
    family = ""
    for name, causes in found.items():
        if not complaints and loaded.symptoms[name].family != family:
            family = loaded.symptoms[name].family
            click.echo(plain(f"== {loaded.families[family].title if family in loaded.families else family}"))
        click.echo(plain(f"{loaded.symptoms[name].title} ({name})"))
        for each in causes:
            rate = f"{1000 * each.base:5.3g} per 1000 calls"
            click.echo(plain(f"  {100 * each.share:4.1f} %  {rate}  {each.title} ({each.cause}; {each.source})"))
