"""How good predictions are: Brier score, logarithmic loss, calibration."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diagnose.reasoning.situation import Array


@dataclass(frozen=True)
class CalibrationBin:
    """Predictions between two bounds: how many, what they said on the average, and how often it came true."""

    low: float
    high: float
    count: int
    predicted: float
    came_true: float


def brier_score(probabilities: Array, truth: Array) -> float:
    """Mean squared distance of predictions [cases, causes] from truth [cases, causes] of ones and zeros, summed over
    causes: 0 is perfect, 2 is wrong and sure of it (Brier, 1950)."""
    return float(((probabilities - truth) ** 2).sum(axis=1).mean())


def log_loss(given_to_truth: Array) -> float:
    """Mean −ln of the probability that was given to what was true, [cases]; floored at 1e-15."""
    return float(-np.log(np.clip(given_to_truth, 1e-15, 1.0)).mean())


def calibration(predicted: Array, came_true: Array, bins: int = 10) -> list[CalibrationBin]:
    """Predictions [n] and what came of them [n] of ones and zeros, in bins of equal width; empty bins are left out."""
    edges = np.linspace(0.0, 1.0, bins + 1)
    index = np.clip(np.searchsorted(edges, predicted, side="right") - 1, 0, bins - 1)
    found = []
    for i in range(bins):
        here = index == i
        if here.any():
            found.append(
                CalibrationBin(
                    float(edges[i]),
                    float(edges[i + 1]),
                    int(here.sum()),
                    float(predicted[here].mean()),
                    float(came_true[here].mean()),
                )
            )
    return found


def expected_calibration_error(bins: list[CalibrationBin]) -> float:
    """The mean gap between what was said and what came true, weighted by how often it was said."""
    total = sum(b.count for b in bins)
    return sum(b.count * abs(b.predicted - b.came_true) for b in bins) / total if total else 0.0
