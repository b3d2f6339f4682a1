"""From counts to better numbers, and whether a number can still be believed. Pure: arrays in, arrays out.

Every number of the trees is a prior worth so many calls, by where it came from. What is counted is added to it:

* Shares of answers under a cause are Dirichlet: (worth·prior + counts) / (worth + Σ counts).
* Base rates are gamma, each by itself: (cases + count) / (cases + expected count) times the prior; see
  ``rates_from_calls``.
* Chances (a remedy removes a cause, a call is of no listed cause) are Beta, the same with two shares.
* Minutes are gamma with a mean that is inverse-gamma: (worth·prior + Σ minutes) / (worth + count); so too the
  middle of a normal or lognormal spread of known width (Gelman et al., *Bayesian Data Analysis*, chapters 2 and 3;
  from memory).

**Missing answers.** A check is put because of what was answered before it in the same call. Given the cause, the
answers of checks are independent of each other, as the whole program takes them to be. So, given the cause, what an
answer will be does not hang on whether its check was put, and the share of an answer *among the calls of that cause in
which the check was put* is an unbiased estimate of its likelihood, whatever the planner preferred (Rubin's *missing at
random*, Biometrika, 1976: the choice hangs on what was observed alone). Of checks of one group, which are not
independent, only the first that was put in a call is counted. Three ways to count are tempting and wrong, and are not
taken: among all calls of the cause, as if what was not asked had not been there; by the cause that the program itself
thought likeliest, which finds its own opinion confirmed; and with what was volunteered, or looked at twice, because it
was odd. What remains is that a call which ends without its cause found is not counted: an answer that leads astray is
seen a little too seldom. ``benchmarks/learning.py`` shows by how much.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
_ROUNDS = 200
_CLOSE = 1e-9


def pooled(prior: float, worth: float, count: float, total: float) -> float:
    """The mean of a conjugate posterior: a ``prior`` worth so many cases, and ``count`` cases that sum to ``total``."""
    return (worth * prior + total) / (worth + count) if worth + count > 0 else prior


def pooled_shares(prior: Mapping[str, float], worth: float, counts: Mapping[str, float]) -> dict[str, float]:
    """The mean of a Dirichlet posterior, ``prior`` its mean before and ``worth`` the sum of its parameters."""
    total = sum(counts.get(name, 0.0) for name in prior)
    return {name: pooled(share, worth, total, counts.get(name, 0.0)) for name, share in prior.items()}


def weights_by_age(periods: Iterable[int], now: int, half_life: float) -> dict[int, float]:
    """What a call of each period counts: half as much after ``half_life`` periods."""
    return {period: 0.5 ** (max(0, now - period) / half_life) for period in periods}


def without_slips(
    prior: Mapping[str, float], worth: float, counts: Mapping[str, float], slip: float
) -> dict[str, float]:
    """The posterior mean of true shares where each answer is, with the chance ``slip``, any of them alike.

    Expectation–maximisation: what of each count was a slip is worked out from the shares, and the shares from the rest.
    With no slips it is ``pooled_shares``.
    """
    shares = dict(prior)
    for _ in range(_ROUNDS):
        meant = {name: (1 - slip) * shares[name] for name in prior}
        seen = {name: meant[name] + slip / len(prior) for name in prior}
        true = {name: counts.get(name, 0.0) * meant[name] / seen[name] if seen[name] else 0.0 for name in prior}
        later = pooled_shares(prior, worth, true)
        if max(abs(later[name] - shares[name]) for name in prior) < _CLOSE:
            return later
        shares = later
    return shares


@dataclass(frozen=True)
class Raised:
    """Confirmed calls alike in who was suspected: how many, the suspects by number, and P(complaint | suspect)."""

    count: float
    suspects: NDArray[np.intp]
    chances: Array


def expected_calls(base: Array, raised: Sequence[Raised]) -> Array:
    """How many calls of each cause the base rates lead one to expect, given what was complained of on which doors."""
    expected = np.zeros(len(base))
    for each in raised:
        weights = base[each.suspects] * each.chances
        if weights.sum() > 0:
            expected[each.suspects] += each.count * weights / weights.sum()
    return expected


def rates_from_calls(base: Array, cases: Array, counts: Array, raised: Sequence[Raised]) -> Array:
    """Base rates after counting causes, each rate gamma before it: of mean ``base``, known as from so many ``cases``.

    ``base``, ``cases`` (of the cause itself: whoever guesses a rate is wrong by a factor, for a rare cause and a common
    one alike) and ``counts`` are [causes]. What is counted is how calls are shared among suspects, given this shop's
    mix of complaints and doors: a shop of few gates does not take faults of gates for rare, and what one complaint
    shows of a cause, all others know. The rates are those that are likeliest on the scale of logarithms; where one
    complaint names all causes and ``cases`` go with ``base``, they are the mean of a Dirichlet posterior. Rates of
    causes that nobody could meet stay, and so does the sum of all others: they are shares of all calls.
    """
    met = expected_calls(base, raised) > 0
    rates, prior = base.copy(), cases[met] / base[met]
    for _ in range(_ROUNDS):
        expected = expected_calls(rates, raised)[met]
        later = (cases[met] + counts[met]) / (prior + expected / rates[met])
        # What calls do not tell, how many there are of all, the prior does: so it is wherever this comes to rest.
        later *= cases[met].sum() / (prior * later).sum()
        change = float(np.abs(np.log(later / rates[met])).max(initial=0.0))
        rates[met] = later
        if change < 1e-6:
            break
    rates[met] *= base[met].sum() / rates[met].sum()
    return rates


def log_bayes_factor(counts: Array, expected: Array) -> float:
    """ln of how much likelier ``counts`` are if every share were as likely as another than if it were ``expected``.

    A Dirichlet with parameters of 1 against one point. Under the point its expectation is 1, at whatever moment one
    looks: P(factor ≥ 1/a) ≤ a (Ville, 1939), so that a shop may look each week.
    """
    n, k = float(counts.sum()), len(counts)
    flat = math.lgamma(k) - math.lgamma(n + k) + sum(math.lgamma(each + 1) for each in counts)
    with np.errstate(divide="ignore"):
        fixed = float(sum(c * math.log(p) if p > 0 else -math.inf for c, p in zip(counts, expected, strict=True) if c))
    return flat - fixed


def flagged(log_factors: Sequence[float], rate: float) -> list[int]:
    """Which of many factors to believe, so that at most a share ``rate`` of those believed are false, in expectation.

    The e-value form of Benjamini and Hochberg's procedure (Wang & Ramdas, 2022; from memory): the k largest of m, for
    the largest k at which the k-th is at least m / (k·rate). It holds however the entries hang together.
    """
    order = sorted(range(len(log_factors)), key=lambda index: -log_factors[index])
    m, most = len(order), 0
    for k, index in enumerate(order, start=1):
        if log_factors[index] >= math.log(m / (k * rate)):
            most = k
    return sorted(order[:most])


def p_chart(hits: Sequence[float], sizes: Sequence[float]) -> tuple[float, list[tuple[float, float]]]:
    """The centre line of a share, and three-sigma limits for each sample's size (NIST/SEMATECH e-Handbook, 6.3.3.2)."""
    total = float(sum(sizes))
    centre = sum(hits) / total if total else 0.0
    limits = []
    for size in sizes:
        half = 3 * math.sqrt(centre * (1 - centre) / size) if size else 1.0
        limits.append((max(0.0, centre - half), min(1.0, centre + half)))
    return centre, limits


def c_chart(counts: Sequence[float]) -> tuple[float, float, float]:
    """The centre line of a count in samples alike, and three-sigma limits (NIST/SEMATECH e-Handbook, 6.3.3.1)."""
    centre = sum(counts) / len(counts) if counts else 0.0
    half = 3 * math.sqrt(centre)
    return centre, max(0.0, centre - half), centre + half
