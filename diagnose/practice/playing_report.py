"""What the doors from life say of the program: figures, and every failure with its reason."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from statistics import median
from typing import Any

import numpy as np

from diagnose.knowledge.model import UNLISTED
from diagnose.practice.evaluate import Interval, calibration_line, mean, share
from diagnose.practice.playing import Played, Put
from diagnose.reasoning.scoring import CalibrationBin, calibration, expected_calibration_error

# From this chance on the likeliest answer was as good as known.
_EXPECTED = 0.9
_SURE = 0.9


@dataclass(frozen=True)
class Figures:
    """The figures of some doors that were played. Shares are of the doors, but for those of checks put."""

    played: Sequence[Played]

    def right_first(self) -> Interval:
        """The right cause leads when the first remedy is put, or at the end where none was."""
        return share(p.right for p in self.played)

    def right_in_three(self) -> Interval:
        return share(p.place is not None and p.place < 3 for p in self.played)

    def mended(self) -> Interval:
        return share(p.mended for p in self.played)

    def mended_without_waste(self) -> Interval:
        return share(p.mended and not p.wrong for p in self.played)

    def no_wrong_remedy(self) -> Interval:
        return share(not p.wrong for p in self.played)

    def unlisted_leads_wrongly(self) -> Interval:
        return share(p.leader == UNLISTED for p in self.played if p.in_book)

    def unlisted_found(self) -> Interval:
        return share(p.right for p in self.played if not p.in_book)

    def confident_and_wrong(self) -> Interval:
        return share(p.leader != UNLISTED and not p.right and p.probability >= _SURE for p in self.played)

    def wrong_remedies(self) -> float:
        return sum(len(p.wrong) for p in self.played) / len(self.played)

    def failed_again(self) -> int:
        return sum(p.again for p in self.played)

    def checks(self) -> float:
        return median(len(p.checks) for p in self.played)

    def minutes(self) -> Interval:
        return mean([p.minutes for p in self.played])

    def calibration(self) -> list[CalibrationBin]:
        """Of the leading cause when the first remedy was put."""
        return calibration(
            np.array([p.probability for p in self.played]), np.array([float(p.right) for p in self.played])
        )

    def calibration_error(self) -> float:
        return expected_calibration_error(self.calibration())

    @property
    def put(self) -> list[Put]:
        return [put for played in self.played for put in played.put]

    def could_not_tell(self) -> Interval:
        return share(not put.told for put in self.put)

    def expected_answers(self) -> Interval:
        return share(put.expected >= _EXPECTED for put in self.put if put.expected is not None)

    def idle(self) -> Interval | None:
        """The share of checks put before the first remedy that were idle; ``None`` where that was not asked for."""
        looked_into = [put.idle for put in self.put if put.idle is not None]
        return share(looked_into) if looked_into else None


def report(by_file: Sequence[tuple[str, Sequence[Played]]], which: str) -> str:
    """The figures as plain text, doors by the file they stand in; ``which`` says which of the doors were played."""
    played = [one for _, of_file in by_file for one in of_file]
    f = Figures(played)
    lines = [
        f"{len(played)} doors from life ({which}); 95 % intervals; written without sight of the trees' likelihoods",
        "",
        "When the first remedy is put, or at the end where none is",
        f"  right cause first            {f.right_first().percent()}",
        f"  among the first three        {f.right_in_three().percent()}",
        f"  calibration error            {f.calibration_error():.4f}",
        *_unlisted_lines(f),
        f"  confident (≥ {_SURE}) and wrong  {f.confident_and_wrong().percent()}",
        "",
        "To the end",
        f"  mended                       {f.mended().percent()}",
        f"  mended, no wrong remedy      {f.mended_without_waste().percent()}",
        f"  no wrong remedy              {f.no_wrong_remedy().percent()}",
        f"  wrong remedies a door        {f.wrong_remedies():.2f}",
        f"  same failed remedy again     {f.failed_again()} times",
        f"  checks, median               {f.checks():g}",
        f"  minutes, proofs not counted  {f.minutes().plain()}",
        "",
        f"Checks before the first remedy: {len(f.put)}",
        f"  this door could not tell     {f.could_not_tell().percent()}",
        f"  one answer ≥ {100 * _EXPECTED:.0f} % expected   {f.expected_answers().percent()}",
        *([f"  idle                         {idle.percent()}"] if (idle := f.idle()) else []),
        "",
        "Calibration of the leading cause, when the first remedy is put",
        *(calibration_line(b) for b in f.calibration()),
        "",
        *_file_lines(by_file),
        "",
        *_failure_lines(played),
    ]
    return "\n".join(lines)


def _unlisted_lines(figures: Figures) -> list[str]:
    found, wrongly = figures.unlisted_found(), figures.unlisted_leads_wrongly()
    lines = [f"  unlisted leads, in no tree   {found.percent()}"] if found.count else []
    return [*lines, f"  unlisted leads wrongly       {wrongly.percent()}"] if wrongly.count else lines


def _file_lines(by_file: Iterable[tuple[str, Sequence[Played]]]) -> list[str]:
    lines = [f"{'By file':30s} {'first':>7s} {'in 3':>7s} {'mended':>7s} {'no wrong':>8s} {'checks':>7s} {'n':>4s}"]
    for name, played in by_file:
        if not played:
            continue
        f = Figures(played)
        shares = (f.right_first(), f.right_in_three(), f.mended(), f.mended_without_waste())
        first, three, mended, clean = (100 * each.value for each in shares)
        lines.append(
            f"  {name:28.28s} {first:6.1f}% {three:6.1f}% {mended:6.1f}% {clean:7.1f}% {f.checks():7g} {len(played):4d}"
        )
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
    f = Figures([one for _, of_file in by_file for one in of_file])
    shares = {
        "right first": f.right_first(),
        "right in three": f.right_in_three(),
        "mended": f.mended(),
        "mended, no wrong remedy": f.mended_without_waste(),
        "no wrong remedy": f.no_wrong_remedy(),
        "unlisted leads, in no tree": f.unlisted_found(),
        "unlisted leads wrongly": f.unlisted_leads_wrongly(),
        "confident and wrong": f.confident_and_wrong(),
        "minutes": f.minutes(),
        "could not tell": f.could_not_tell(),
        "one answer expected": f.expected_answers(),
        "idle": f.idle(),
    }
    # A share of nothing is none.
    figures: dict[str, Any] = {k: asdict(value) if value and value.count else None for k, value in shares.items()}
    return {
        "played": which,
        "figures": {
            **figures,
            "wrong remedies a door": f.wrong_remedies(),
            "same failed remedy again": f.failed_again(),
            "median checks": f.checks(),
            "calibration error": f.calibration_error(),
            "calibration": [asdict(b) for b in f.calibration()],
        },
        "doors": [{"file": name, **asdict(one)} for name, played in by_file for one in played],
    }
