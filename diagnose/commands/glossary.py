"""``diagnose glossary``: what the things on a door are called, where they sit, and what they look like."""

from __future__ import annotations

import click

from diagnose.cli import Session
from diagnose.commands.console import Console, say_all
from diagnose.commands.given import write

# Other entries that are named below the one that fits best.
_OTHERS = 8


@click.command()
@click.argument("words", nargs=-1, metavar="[WORD]...")
@click.option("--width", type=click.IntRange(20, 200), default=None, help="Columns to wrap at.")
@click.option("--svg", "svg_file", metavar="FILE", help="Write the sketch as SVG; - is the screen.")
@click.pass_obj
def glossary(session: Session, words: tuple[str, ...], width: int | None, svg_file: str | None) -> int:
    """Say what a thing on a door is, where it sits and what it looks like, with a sketch. Without WORD, list them all.

    Any of its names will do, its beginning, or what it looks like. Ends with 1 where nothing fits.

    \b
    Examples:
      diagnose glossary
      diagnose glossary bottom bracket
      diagnose glossary drawbar --svg arm.svg
    """
    from diagnose.calls.sketches import sketch_for, sketch_svg, where_told
    from diagnose.finding.glossary import find_components

    trees, console = session.trees, Console(width or 0)
    found = find_components(trees, " ".join(words))
    if not found:
        console.say(f"Nothing here is called '{' '.join(words)}'. Without a word, all are listed.")
        return 1
    if not words:
        for component in found:
            console.say("; ".join((component.title, *component.also)), hang=4)
        return 0
    if svg_file is not None:
        sketch = sketch_for(trees, found[0].id, {})
        if sketch is None:
            console.say(f"No sketch shows {found[0].title}.")
            return 1
        write(svg_file, f"{sketch_svg(trees, sketch, [found[0].id])}\n")
        return 0
    say_all(console, where_told(trees, found[0], {}, (), console.width))
    if others := [component.title for component in found[1 : _OTHERS + 1]]:
        console.apart(f"It may also mean: {'; '.join(others)}.", hang=2)
    return 0
