"""Rules that weigh answers: what can be reached, what tells, what can be told apart, and what ever comes first."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Iterator

import numpy as np

from diagnose.knowledge.checker import Book, Finding, rule
from diagnose.knowledge.distributions import Distribution
from diagnose.knowledge.doors import door_in_words, meet
from diagnose.knowledge.functions import Chain, chain_of
from diagnose.knowledge.model import UNLISTED, Cause, Check, Trees
from diagnose.reasoning.walk import inputs_of, openers
from diagnose.review.pairs import MISTAKEN, Pair, pairs, same_remedy
from diagnose.review.reach import unreachable as _unreachable
from diagnose.review.undecided import asked_of, bearing_on, said_of
from diagnose.review.weighing import Answers, weigh
from diagnose.review.winners import losers
from diagnose.review.worse import Fall, fall

# A factor between two causes that moves nobody.
_LITTLE = 1.5
# Two states of a check whose answers differ more seldom than this are the same to whoever looks.
_THE_SAME = 0.02
# An answer that a cause makes rarer than this does not lead on to what would show that cause.
_SELDOM = 0.10
# So many causes, and so large a share of those that take a function in one way, look so far from sound at a check that
# another of them is asked what it shows there.
_SIBLINGS, _NEARLY_ALL, _FAR = 3, 0.75, 0.5


@rule("unreachable")
def unreachable(book: Book) -> Iterator[Finding]:
    """A check that no walk of the graph comes to: for no door, no complaint and no answers.

    It waits to be opened by a check that is never asked, or for two answers that cannot both be given.

    Passes:
        lamp: {opens: {dark: [volts]}, …}
        volts: {after: {lamp: dark}, …}
    Fails:
        lamp: {opens: {dark: [volts]}, …}
        volts: {after: {lamp: lit}, …}         # opened by one answer, allowed by another
    """
    gates = openers(book.trees)
    for name in _unreachable(book):
        check = book.trees.checks[name]
        waits = sorted({*gates.get(name, ()), *check.after, *inputs_of(book.trees, check)})
        wrong = f"No walk comes to '{name}'" + (f", which waits for {', '.join(waits)}." if waits else ".")
        mend = "Look at what opens it, at its 'after', and at the 'applies' of both."
        yield Finding(book.place("checks", name), wrong, mend)


@rule("worse-less-likely")
def worse_less_likely(book: Book) -> Iterator[Finding]:
    """A reading gets worse, and a fault that it speaks for is thought less likely.

    What wears, slackens or moves can do so further. The check says which way is worse, and no sign of it falls off
    that way. A sign that names a value, such as the volts of a wrong tap, says 'value: yes' and is left alone.

    Passes:
        play: {worse: higher, …}
        worn: {signs: {play: {at-least: [0.1 in, 0.3 in]}}, …}
        wrong-tap: {signs: {volts: {normal: [31 V, 1 V], value: yes}}, …}
    Fails:
        worn: {signs: {play: {normal: [0.3 in, 0.05 in]}}, …}
    """
    for cause in book.trees.causes.values():
        written = book.written("causes", cause.id).get("signs") or {}
        for name, sign in cause.signs.items():
            check = book.trees.checks[name]
            if check.healthy is None or not check.plausible or str(written.get(name, {}).get("value", "no")) == "yes":
                continue
            looking = functools.partial(_falls, book.trees, check, sign)
            for found in book.kept.once("worse", (check, sign, book.trees.costs), list[Fall], looking):
                wrong = (
                    f"'{name}' speaks for '{cause.id}' {found.most:.3g} to 1 at {found.best:.3g} {check.unit}, "
                    f"and {found.least:.2g} to 1 at {found.worse:.3g}, which is worse."
                )
                mend = "Write at-least or at-most; or 'value: yes' in the sign, where it can be no other value."
                yield Finding(book.place("causes", cause.id, "signs", name), wrong, mend)


def _falls(trees: Trees, check: Check, sign: Distribution) -> list[Fall]:
    found = fall(trees, check, sign)
    return [] if found is None else [found]


@rule("worse-unsaid", "warning")
def worse_unsaid(book: Book) -> Iterator[Finding]:
    """A reading that faults change does not say which way is worse.

    Passes:
        play: {measure: Side play of the roller, worse: higher, …}
        gauge: {measure: Size of the wire, worse: neither, …}
    Fails:
        play: {measure: Side play of the roller, …}
    """
    changed = {name for cause in book.trees.causes.values() for name in cause.signs}
    for check in book.trees.checks.values():
        if check.id in changed and check.is_number and not check.worse:
            wrong = f"'{check.id}' does not say which way is worse."
            mend = "Write 'worse: higher', 'lower' or 'both', or 'neither' where a reading is a value and not a degree."
            yield Finding(book.place("checks", check.id), wrong, mend)


@rule("never-deciding", "warning")
def never_deciding(book: Book) -> Iterator[Finding]:
    """No answer of a check moves any two causes of a symptom apart by more than a factor of 1.5.

    Passes:
        causes: {fuse: {signs: {lamp: {dark: always}}, …}, jam: {…}}
    Fails:
        causes: {fuse: {signs: {lamp: {dark: 0.03}}, …}, jam: {…}}      # a healthy door: dark 0.02
    """
    for name, answers in weigh(book).items():
        factor = _largest_factor(book.trees, answers)
        if factor < _LITTLE:
            wrong = f"No answer of '{name}' moves two causes of a symptom apart by more than {factor:.2g} times."
            mend = "Make the signs say what is seen, give it to causes of one symptom, or take the check out."
            yield Finding(book.place("checks", name), wrong, mend)


def _largest_factor(trees: Trees, answers: Answers) -> float:
    most = 1.0
    for symptom in trees.symptoms.values():
        raised = [cause for cause in symptom.causes if meet(trees, symptom.applies, trees.causes[cause].applies)]
        if not any(cause in answers.state_of for cause in raised):
            continue
        for first, second in itertools.combinations(raised, 2):
            i, j = answers.state(first), answers.state(second)
            either = (trees.causes[first].applies, trees.causes[second].applies)
            if i != j and meet(trees, symptom.applies, answers.check.applies, *either):
                ratio = answers.likelihood[i] / answers.likelihood[j]
                most = max(most, float(np.maximum(ratio, 1 / ratio).max()))
        if most >= _LITTLE:
            break
    return most


@rule("sign-tells-nothing", "warning")
def sign_tells_nothing(book: Book) -> Iterator[Finding]:
    """What a cause shows is what a healthy door shows: spreads that lie over each other, or the same likelihoods.

    Two spreads are compared through the eyes of the instrument, whose error may hide the difference.

    Passes:
        volts: {healthy: {normal: [24 V, 1 V]}, …}
        causes: {wire-long: {signs: {volts: {normal: [17 V, 1.5 V]}}, …}}
    Fails:
        volts: {healthy: {normal: [24 V, 1 V]}, …}
        causes: {wire-long: {signs: {volts: {normal: [23.9 V, 1 V]}}, …}}
    """
    for name, answers in weigh(book).items():
        differing = np.abs(answers.likelihood - answers.likelihood[0]).sum(axis=1) / 2
        for cause, state in answers.state_of.items():
            if differing[state] < _THE_SAME:
                wrong = f"What '{cause}' shows at '{name}' is what a healthy door shows."
                mend = "Take the sign out, or write how it differs."
                yield Finding(book.place("causes", cause, "signs", name), wrong, mend)


@rule("sibling-unsaid", "warning")
def sibling_unsaid(book: Book) -> Iterator[Finding]:
    """A cause says nothing of a check that nearly all causes which take the same function change.

    Nearly all are three in four, and at least three, of those that take it in the same way, each of them farther from a
    sound door than not. Where one is silent, what it brings about may speak against it.

    Passes:
        checks: {volts: {…}}                   # which three other causes that take 'fed' change
        causes: {lead-off: {takes: {fed: lost}, signs: {volts: {at-most: [5 V, 2 V]}}, …}}
    Fails:
        checks: {volts: {…}}
        causes: {lead-off: {takes: {fed: lost}, signs: {}, …}}     # nor 'as-sound: [volts]'
    """
    trees, chain, bearing = book.trees, chain_of(book.trees), bearing_on(book.trees)
    siblings: dict[tuple[str, str], list[Cause]] = {}
    for cause in trees.causes.values():
        for function, loss in cause.takes.items():
            siblings.setdefault((function, loss), []).append(cause)
    asked = {cause.id: asked_of(trees, cause, chain, bearing) for cause in trees.causes.values()}
    said = {cause.id: said_of(trees, cause) for cause in trees.causes.values()}
    for name, answers in weigh(book).items():
        far = 1 - np.minimum(answers.likelihood, answers.likelihood[0]).sum(axis=1) >= _FAR
        silent: dict[str, str] = {}
        for (function, _), causes in siblings.items():
            if sum(far[answers.state(cause.id)] for cause in causes) < _SIBLINGS:
                continue
            able = [c for c in causes if name in asked[c.id] and _can_be_done(trees, answers.check, c, chain)]
            changing = sum(far[answers.state(cause.id)] for cause in able)
            if changing >= max(_SIBLINGS, _NEARLY_ALL * len(able)):
                silent |= {cause.id: function for cause in able if name not in said[cause.id]}
        for cause_id, function in silent.items():
            wrong = f"'{cause_id}' says nothing of '{name}', which nearly all causes that take '{function}' change."
            yield Finding(book.place("causes", cause_id), wrong, "Write a sign, or name the check in 'as-sound'.")


def _can_be_done(trees: Trees, check: Check, cause: Cause, chain: Chain) -> bool:
    """Whether a check can be done, and means something, while a cause is there."""
    return chain.lost_by(cause).isdisjoint(check.wants) and meet(trees, cause.applies, check.applies)


@rule("indistinguishable", "warning")
def indistinguishable(book: Book) -> Iterator[Finding]:
    """Two causes of a symptom that, on some door, all checks together do not tell apart well enough.

    Asked for: whoever has done every check and goes by the likelier of the two is wrong at most once in ten; and one
    check by itself leaves an overlap of at most 0.7. Two causes that one remedy serves may say `same-remedy`. Every
    pair is looked at on every kind of door that can have both.

    Passes:
        eye-dead: {signs: {eye-current: {uniform: [0 A, 0.005 A]}}, …}
        eye-dirty: {signs: {lens: {dirty: almost-certain}}, …}
    Fails:
        eye-dead: {signs: {eye-lamp: {dark: 0.6}}, …}
        eye-dirty: {signs: {eye-lamp: {dark: 0.4}}, …}
    """
    for pair in pairs(book):
        if pair.margin < 1 and not same_remedy(book.trees, pair.first, pair.second):
            yield _not_told_apart(book, pair)


def _not_told_apart(book: Book, pair: Pair) -> Finding:
    trees = book.trees
    shared = set(trees.causes[pair.first].remedies) & set(trees.causes[pair.second].remedies)
    best = f"; the best, '{pair.best}', leaves an overlap of {pair.best_overlap:.2f}" if pair.best else ""
    door = f"; such a door: {door_in_words(trees, pair.facts)}" if pair.facts else ""
    wrong = (
        f"'{pair.first}' and '{pair.second}' of '{pair.symptom}' stay mistaken up to {100 * pair.mistaken:.0f} times"
        f" in 100 (limit {100 * MISTAKEN:.0f}) when all checks are done{best}{door}."
    )
    mend = "Add a check that only one of them changes"
    if shared:
        mend += f", or write 'same-remedy', as {', '.join(sorted(shared))} serves both"
    return Finding(book.place("causes", pair.first), wrong, f"{mend}.")


@rule("never-first", "warning")
def never_first(book: Book) -> Iterator[Finding]:
    """A cause that is not held the likeliest even when it is the true one and every check shows what it would.

    Its base rate is too low for what its signs say, or its signs are those of a commoner cause.

    Passes:
        fuse: {base: 8 per 1000 calls, signs: {lamp: {dark: always}, fuse-ohms: {beyond: range}}, …}
    Fails:
        fuse: {base: 0.2 per 1000 calls, signs: {lamp: {dark: probable}}, …}    # and a breaker shows the same lamp
    """
    for loser in losers(book):
        ahead = "something not in the book" if loser.winner == UNLISTED else f"'{loser.winner}'"
        wrong = (
            f"'{loser.cause}' never comes first for '{loser.symptom}': when it is the true one, {ahead} has"
            f" {100 * loser.ahead:.0f} % and it has {100 * loser.probability:.0f} %."
        )
        mend = "Give it a sign of its own, or look at the base rates."
        yield Finding(book.place("causes", loser.cause), wrong, mend)


@rule("opened-against-likelihood", "warning")
def opened_against_likelihood(book: Book) -> Iterator[Finding]:
    """A check that would show a cause is opened only by answers which that cause makes nearly impossible.

    When the cause is there the walk does not come to the check that would show it, until all else has been asked.

    Passes:
        lamp: {opens: {dark: [splice]}, …}
        causes: {splice-corroded: {signs: {lamp: {dark: probable}, splice: {green: probable}}, …}}
    Fails:
        lamp: {opens: {blinking: [splice]}, …}
        causes: {splice-corroded: {signs: {lamp: {dark: always}, splice: {green: probable}}, …}}
    """
    trees, weighed = book.trees, weigh(book)
    for name, gates in openers(trees).items():
        if name not in weighed or any(name in symptom.ask_first for symptom in trees.symptoms.values()):
            continue
        for cause in weighed[name].state_of:
            chances = {gate: _opening_chance(trees.checks[gate], weighed.get(gate), name, cause) for gate in gates}
            if max(chances.values()) < _SELDOM:
                gate, chance = max(chances.items(), key=lambda item: item[1])
                share = f"{100 * chance:.0f} %"
                wrong = f"'{name}', which would show '{cause}', is opened by '{gate}' in {share} of its cases."
                mend = "Open it by what the cause shows, or take the 'opens' out."
                yield Finding(book.place("checks", gate, "opens"), wrong, mend)


def _opening_chance(gate: Check, answers: Answers | None, name: str, cause: str) -> float:
    """P(an answer that opens the check | the cause), taken as 1 where the gate says nothing of any cause."""
    if answers is None or not gate.answers:
        return 1.0
    row = answers.likelihood[answers.state(cause)]
    leading = {answer for answer, names in gate.opens.items() if name in names}
    return float(sum(row[i] for i, answer in enumerate(gate.answers) if answer in leading))


@rule("counted-twice", "warning")
def counted_twice(book: Book) -> Iterator[Finding]:
    """A cause changes a computed check and also a reading it is computed from: one finding then weighs twice.

    Passes:
        volts-missing: {compute: …, inputs: {far: eye-volts}, group: eye-volts, …}
        eye-volts: {measure: …, group: eye-volts, …}
    Fails:
        volts-missing: {compute: …, inputs: {far: eye-volts}, …}
        causes: {wire-long: {signs: {volts-missing: …, eye-volts: …}, …}}
    """
    checks = book.trees.checks
    for cause in book.trees.causes.values():
        for name in cause.signs:
            check = checks[name]
            for source in dict.fromkeys(check.sources):
                if source in cause.signs and not (check.group and check.group == checks[source].group):
                    wrong = f"'{cause.id}' changes '{name}' and '{source}', from which that is computed."
                    mend = "Give both checks one 'group:', or leave one sign out."
                    yield Finding(book.place("causes", cause.id, "signs", name), wrong, mend)
