"""Numbers that cannot be meant: sums, spreads, base rates, and numbers from nowhere."""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterator

from diagnose.knowledge.checker import Book, Fault, Finding, rule, rule_of
from diagnose.knowledge.distributions import Distribution, Shares, mostly, probability
from diagnose.knowledge.model import Check

# The share of a spread that lies in the plausible range: of a healthy door nearly all of it, of a fault most.
_HEALTHY_WITHIN, _FAULT_WITHIN = 0.95, 0.5
# Base rates outside of this are slips of the decimal point; the widest of a real shop's differ by some hundred.
_MOST_RATES = 2.0
_RAREST, _COMMONEST = 0.1 / 1000, 150 / 1000


@rule("outside-plausible")
def outside_plausible(book: Book) -> Iterator[Finding]:
    """A healthy reading lies outside its own plausible range, or what a cause shows mostly does.

    Whoever types a true reading is then asked whether it was a slip; and what no reading can be weighs nothing.

    Passes:
        volts: {unit: V, plausible: 0 to 60 V, healthy: {normal: [24 V, 1 V]}}
    Fails:
        volts: {unit: V, plausible: 0 to 20 V, healthy: {normal: [24 V, 1 V]}}
    """
    for check in book.trees.checks.values():
        if check.healthy is None or isinstance(check.healthy, Shares) or not check.plausible:
            continue
        shown = f"{check.plausible[0]:g} to {check.plausible[1]:g} {check.unit}".strip()
        mend = f"The range is {shown}. Widen it, or write a spread that stays inside, such as a lognormal or a mixture."
        if _within(check.healthy, check) < _HEALTHY_WITHIN:
            outside = 100 * (1 - _within(check.healthy, check))
            wrong = f"{outside:.0f} % of the healthy spread of '{check.id}' lies outside its plausible range."
            yield Finding(book.place("checks", check.id, "healthy"), wrong, mend)
        for cause in book.trees.causes.values():
            sign = cause.signs.get(check.id)
            if sign is not None and _within(sign, check) < _FAULT_WITHIN:
                outside = 100 * (1 - _within(sign, check))
                wrong = f"{outside:.0f} % of what '{cause.id}' shows lies outside the plausible range of '{check.id}'."
                yield Finding(book.place("causes", cause.id, "signs", check.id), wrong, mend)


def _within(spread: Distribution, check: Check) -> float:
    """The share of a spread in the plausible range; an overload is plausible whatever the range."""
    assert check.plausible is not None
    low, high = check.plausible
    width = high - low
    finite = probability(spread, -math.inf, high + 1e6 * width)
    return probability(spread, low, high) + max(0.0, 1.0 - finite)


@rule("base-rate-outlying", "warning")
def base_rate_outlying(book: Book) -> Iterator[Finding]:
    """A base rate hundreds of times above or below the others.

    A base rate counts calls with that cause among all calls, whatever they are about. Rates are relative: where they
    come to more than all calls they are taken in proportion.

    Passes:
        causes: {eye-dirty: {base: 30 per 1000 calls, …}}
    Fails:
        causes: {eye-dirty: {base: 300 per 1000 calls, …}}
    """
    causes = list(book.trees.causes.values())
    if not causes:
        return
    middle = statistics.median(cause.base for cause in causes)
    for cause in causes:
        if not _RAREST <= cause.base <= _COMMONEST:
            wrong = (
                f"'{cause.id}' is {1000 * cause.base:g} of 1000 calls; half of all causes are above {1000 * middle:g}."
            )
            mend = (
                f"Rates lie between {1000 * _RAREST:g} and {1000 * _COMMONEST:g} per 1000 calls: look at the decimal."
            )
            yield Finding(book.place("causes", cause.id, "base"), wrong, mend)


@rule("base-rates-sum")
def base_rates_sum(book: Book) -> Iterator[Finding]:
    """All base rates together come to far more calls than there are.

    Rates are relative, and need come to no sum: a little more or less than all calls is as good. More than twice all
    calls is a slip in the decimal of some of them.

    Passes:
        causes: {eye-dirty: {base: 30 per 1000 calls, …}, fuse: {base: 8 per 1000 calls, …}}
    Fails:
        causes: {eye-dirty: {base: 0.9, …}, fuse: {base: 0.9, …}, lamp: {base: 0.9, …}}
    """
    causes = book.trees.causes.values()
    together = sum(cause.base for cause in causes)
    if together > _MOST_RATES:
        most = max(causes, key=lambda cause: cause.base)
        wrong = f"The base rates come to {together:.3g} of every call; '{most.id}' alone is {most.base:.3g}."
        yield Finding(book.place("causes", most.id, "base"), wrong, "Look at the decimals of the largest.")


@rule("source-missing", "warning")
def source_missing(book: Book) -> Iterator[Finding]:
    """A cause, check, symptom, remedy, proof, instrument or hazard whose numbers come from nowhere.

    Passes:
        source: estimate                       # at the top of the file, for all that names no other
    Fails:
        causes: {fuse: {base: 8 per 1000 calls, …}}     # in a file without a source
    """
    for kind in ("symptoms", "causes", "checks", "remedies", "proofs", "jobs", "instruments", "cautions", "hazards"):
        for identity in book.entries(kind):
            if not book.source(kind, identity):
                wrong = f"'{identity}' does not say where its numbers come from."
                mend = "Write 'source:' here or at the file's top: document and clause, common practice, or estimate."
                yield Finding(book.place(kind, identity), wrong, mend)


@rule_of(["checks"], "limit-cannot-be")
def limit_cannot_be(_: Book, check: Check) -> Iterator[Fault]:
    """A check's limit stands on the side that is not worse, where no reading can be, or where sound doors mostly are.

    A limit also says where it comes from, for somebody plans work by it.

    Passes:
        gap: {unit: mm, plausible: 0 to 9 mm, worse: higher, limit: at most 2 mm, limit-source: estimate, …}
    Fails:
        gap: {unit: mm, plausible: 0 to 9 mm, worse: higher, limit: at least 2 mm, …}
    """
    if check.limit is None:
        return
    at, has = ("limit",), tuple(map(math.isfinite, check.limit))
    sides = {"higher": (False, True), "lower": (True, False)}
    if not ((check.worse == "both" and any(has)) or has == sides.get(check.worse)):
        wrong = f"'{check.id}' is worse '{check.worse or 'unsaid'}', and its limit stands on another side."
        yield Fault(wrong, "Write 'at most' where higher is worse, 'at least' where lower is.", at)
    low, high = check.plausible or (-math.inf, math.inf)
    if not all(low < end < high for end in check.limit if math.isfinite(end)):
        yield Fault(f"The limit of '{check.id}' lies outside its plausible range.", "Change one of them.", at)
    sound = mostly(check.healthy) if check.healthy is not None else None
    if sound is not None and probability(sound, *check.limit) < _HEALTHY_WITHIN:
        beyond = 100 * (1 - probability(sound, *check.limit))
        wrong = f"{beyond:.0f} % of sound doors are beyond the limit of '{check.id}'."
        yield Fault(wrong, "Move the limit out, or the spread of a sound door in.", at)
    if not check.limit_source:
        mend = "Write 'limit-source:': document and clause, common practice, or estimate."
        yield Fault(f"Nobody says where the limit of '{check.id}' comes from.", mend, at)
