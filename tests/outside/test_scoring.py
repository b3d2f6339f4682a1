"""Brier score, log loss and calibration, against scikit-learn."""

from __future__ import annotations

import numpy as np
import pytest
from sklearn.calibration import calibration_curve
from sklearn.metrics import brier_score_loss
from sklearn.metrics import log_loss as their_log_loss

from diagnose.reasoning.scoring import brier_score, calibration, expected_calibration_error, log_loss


@pytest.mark.parametrize("seed", range(5))
def test_the_scores_are_scikit_learns(seed: int) -> None:
    random = np.random.default_rng(seed)
    probabilities = random.dirichlet(np.ones(4), 60)
    labels = np.array([random.choice(4, p=row) for row in probabilities])
    labels[:4] = range(4)
    truth = np.eye(4)[labels]
    assert log_loss(probabilities[np.arange(60), labels]) == pytest.approx(their_log_loss(labels, probabilities))
    by_class = [brier_score_loss(truth[:, k], probabilities[:, k]) for k in range(4)]
    assert brier_score(probabilities, truth) == pytest.approx(sum(by_class))


@pytest.mark.parametrize("seed", range(5))
def test_calibration_is_scikit_learns(seed: int) -> None:
    random = np.random.default_rng(seed)
    said = random.random(500)
    came_true = (random.random(500) < said**1.3).astype(float)
    theirs_true, theirs_said = calibration_curve(came_true, said, n_bins=10)
    bins = calibration(said, came_true)
    assert [b.came_true for b in bins] == pytest.approx(list(theirs_true))
    assert [b.predicted for b in bins] == pytest.approx(list(theirs_said))
    by_hand = sum(((said >= b.low) & (said < b.high)).mean() * abs(b.predicted - b.came_true) for b in bins)
    assert expected_calibration_error(bins) == pytest.approx(by_hand)


def test_a_perfect_forecast_and_a_hopeless_one() -> None:
    truth = np.eye(2)[[0, 1]]
    assert brier_score(truth, truth) == 0
    assert brier_score(1 - truth, truth) == 2
    assert log_loss(np.array([1.0, 1.0])) == pytest.approx(0, abs=1e-12)
    assert log_loss(np.array([0.0])) == pytest.approx(34.5, abs=0.1)
