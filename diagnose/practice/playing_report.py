"""What the doors from life say of the program: figures, and every failure with its reason."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict
from statistics import median
from typing import Any

import numpy as np

from diagnose.knowledge.model import UNLISTED
from diagnose.practice.evaluate import Interval, calibration_line, mean, share
from diagnose.practice.playing import Played
from diagnose.reasoning.scoring import CalibrationBin, calibration, expected_calibration_error

# From this chance on the likeliest answer was as good as known.
_EXPECTED = 0.9
_SURE = 0.9
_UNLISTED = ("unlisted leads, in no tree", "unlisted leads wrongly")


def figures(played: Sequence[Played]) -> dict[str, Interval]:
    """The figures of some doors that were played, by name. Shares are of the doors, but for those of checks put before
    the first remedy."""
    put = [put for one in played for put in one.put]
    return {
        # The right cause leads when the first remedy is put, or at the end where none was.
        "right first": share(p.right for p in played),
        "right in three": share(p.place is not None and p.place < 3 for p in played),
        "mended": share(p.mended for p in played),
        "mended, no wrong remedy": share(p.mended and not p.wrong for p in played),
        "no wrong remedy": share(not p.wrong for p in played),
        "unlisted leads, in no tree": share(p.right for p in played if not p.in_book),
        "unlisted leads wrongly": share(p.leader == UNLISTED for p in played if p.in_book),
        "confident and wrong": share(p.leader != UNLISTED and not p.right and p.probability >= _SURE for p in played),
        "minutes": mean([p.minutes for p in played]),
        "could not tell": share(not each.told for each in put),
        "one answer expected": share(each.expected >= _EXPECTED for each in put if each.expected is not None),
        # Of those of which it was asked whether they were.
        "idle": share(each.idle for each in put if each.idle is not None),
    }


def calibration_of(played: Sequence[Played]) -> list[CalibrationBin]:
    """Of the leading cause when the first remedy was put."""
    return calibration(np.array([p.probability for p in played]), np.array([float(p.right) for p in played]))


def _wrong_remedies(played: Sequence[Played]) -> float:
    return sum(len(p.wrong) for p in played) / len(played)


def _checks(played: Sequence[Played]) -> float:
    return median(len(p.checks) for p in played)


def report(by_file: Sequence[tuple[str, Sequence[Played]]], which: str) -> str:
    """The figures as plain text, doors by the file they stand in; ``which`` says which of the doors were played."""
    played = [one for _, of_file in by_file for one in of_file]
    f, bins = figures(played), calibration_of(played)
    told = {name: figure.percent() for name, figure in f.items() if figure.count}
    count = sum(len(one.put) for one in played)
    lines = [
        f"{len(played)} doors from life ({which}); 95 % intervals; written without sight of the trees' likelihoods",
        "",
        "When the first remedy is put, or at the end where none is",
        f"  right cause first            {told['right first']}",
        f"  among the first three        {told['right in three']}",
        f"  calibration error            {expected_calibration_error(bins):.4f}",
        *(
            f"  {name:28s} {told[name]}"
            for name in ("unlisted leads, in no tree", "unlisted leads wrongly")
            if name in told
        ),
        f"  confident (≥ {_SURE}) and wrong  {told['confident and wrong']}",
        "",
        "To the end",
        *(f"  {name:28s} {told[name]}" for name in ("mended", "mended, no wrong remedy", "no wrong remedy")),
        f"  wrong remedies a door        {_wrong_remedies(played):.2f}",
        f"  same failed remedy again     {sum(p.again for p in played)} times",
        f"  checks, median               {_checks(played):g}",
        f"  minutes, proofs not counted  {f['minutes'].plain()}",
        "",
        f"Checks before the first remedy: {count}",
        f"  this door could not tell     {f['could not tell'].percent()}",
        f"  one answer ≥ {100 * _EXPECTED:.0f} % expected   {f['one answer expected'].percent()}",
        *([f"  idle                         {told['idle']}"] if "idle" in told else []),
        "",
        "Calibration of the leading cause, when the first remedy is put",
        *map(calibration_line, bins),
        "",
        *_file_lines(by_file),
        "",
        *_failure_lines(played),
    ]
    return "\n".join(lines)


def _file_lines(by_file: Iterable[tuple[str, Sequence[Played]]]) -> list[str]:
    lines = [f"{'By file':30s} {'first':>7s} {'in 3':>7s} {'mended':>7s} {'no wrong':>8s} {'checks':>7s} {'n':>4s}"]
    for name, played in by_file:
        if not played:
            continue
        f, names = figures(played), ("right first", "right in three", "mended", "mended, no wrong remedy")
        first, three, mended, clean = (100 * f[each].value for each in names)
        shares = f"{first:6.1f}% {three:6.1f}% {mended:6.1f}% {clean:7.1f}%"
        lines.append(f"  {name:28.28s} {shares} {_checks(played):7g} {len(played):4d}")
    return lines


def _failure_lines(played: Sequence[Played]) -> list[str]:
    failed = [one for one in played if one.why]
    lines = [f"Not right first, mended and without a wrong remedy: {len(failed)}"]
    aside = sum(one.set_aside for one in failed)
    if aside:
        lines.append(f"  {aside} of these are set aside, and not shown: nothing is to be learnt from them")
    for one in failed:
        if one.set_aside:
            continue
        place = "no suspect" if one.place is None else f"place {one.place + 1}"
        wrong = f", {len(one.wrong)} wrong" if one.wrong else ""
        lines += [f"  {one.door}  {one.complaint}: {place}, {one.end}{wrong}", f"      {one.why}"]
    return lines


def as_data(by_file: Sequence[tuple[str, Sequence[Played]]], which: str) -> dict[str, Any]:
    """The same for a program: figures from 0 to 1 with their intervals, and every door."""
    played = [one for _, of_file in by_file for one in of_file]
    bins = calibration_of(played)
    return {
        "played": which,
        "figures": {
            # A share of nothing is none.
            **{name: asdict(figure) if figure.count else None for name, figure in figures(played).items()},
            "wrong remedies a door": _wrong_remedies(played),
            "same failed remedy again": sum(p.again for p in played),
            "median checks": _checks(played),
            "calibration error": expected_calibration_error(bins),
            "calibration": [asdict(each) for each in bins],
        },
        "doors": [{"file": name, **asdict(one)} for name, played in by_file for one in played],
    }
