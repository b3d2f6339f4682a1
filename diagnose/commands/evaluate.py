"""``diagnose evaluate``: how good the program is on doors simulated from its own trees."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.option("--calls", default=146, show_default=True, help="Calls of each kind, spread evenly over the symptoms.")
@click.option("--seed", default=1, show_default=True, help="The same seed gives the same figures.")
@click.option("--family", "families", multiple=True, help="Only this family of symptoms; may be given several times.")
@click.option("--policy", "policies", multiple=True, help="Only this policy; may be given several times.")
@click.option("--trees", "folder", type=click.Path(path_type=Path), default=None, help="A folder of trees of your own.")
@click.option("--plot", type=click.Path(path_type=Path), default=None, help="Write the calibration plot here, as SVG.")
def evaluate(
    calls: int, seed: int, families: tuple[str, ...], policies: tuple[str, ...], folder: Path | None, plot: Path | None
) -> None:
    """Simulate calls from the trees and print how right, how quick and how sure of itself the program is.

    Example: diagnose evaluate --calls 292 --family chain
    """
    from diagnose.knowledge.load import load_trees
    from diagnose.knowledge.problems import did_you_mean
    from diagnose.practice import evaluate as evaluation
    from diagnose.practice.simulated import POLICIES

    trees = load_trees(folder)
    for family in families:
        if family not in trees.families:
            raise click.UsageError(f"'{family}' is no family. {did_you_mean(family, trees.families)}")
    for policy in policies:
        if policy not in POLICIES:
            raise click.UsageError(f"'{policy}' is no policy. {did_you_mean(policy, POLICIES)}")
    found = evaluation.evaluate(
        trees, calls, seed, policies or tuple(POLICIES), families, lambda what: click.echo(f"… {what}", err=True)
    )
    click.echo(evaluation.report(found))
    if plot is not None:
        plot.write_text(calibration_svg(found), encoding="utf-8")


def calibration_svg(found: object) -> str:
    """The calibration plot: what was said against what came true, with the diagonal it should lie on."""
    from diagnose.practice.evaluate import Evaluation

    assert isinstance(found, Evaluation)
    size, margin = 320, 44
    points = []
    for b in found.calibration():
        x, y = margin + size * b.predicted, margin + size * (1 - b.came_true)
        radius = 2 + min(10.0, b.count**0.5 / 4)
        points.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:.1f}" fill="#256" fill-opacity="0.7">'
            f"<title>said {b.predicted:.2f}, came true {b.came_true:.2f}, {b.count} times</title></circle>"
        )
    low, high = margin, margin + size
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size + 2 * margin} {size + 2 * margin}" '
        'font-family="sans-serif" font-size="12">'
        f'<rect x="{low}" y="{low}" width="{size}" height="{size}" fill="none" stroke="#888"/>'
        f'<line x1="{low}" y1="{high}" x2="{high}" y2="{low}" stroke="#bbb" stroke-dasharray="4"/>'
        + "".join(points)
        + f'<text x="{low + size / 2}" y="{high + 32}" text-anchor="middle">said</text>'
        f'<text x="14" y="{low + size / 2}" text-anchor="middle" '
        f'transform="rotate(-90 14 {low + size / 2})">came true</text>'
        f'<text x="{low}" y="{high + 16}">0</text><text x="{high - 8}" y="{high + 16}">1</text></svg>\n'
    )
