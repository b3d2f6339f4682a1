"""What each kind of door must have proved, and that no way leads back into service around it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from diagnose.knowledge.amounts import read_band
from diagnose.knowledge.checker import Book, Finding, rule
from diagnose.knowledge.distributions import Distribution, Shares, probability
from diagnose.knowledge.doors import Doors, Mask, all_doors, door_in_words
from diagnose.knowledge.model import ANY, Assurance, Check, Proof, Trees
from diagnose.safety.invariant import Visited, invariant


@invariant("proofs-incomplete")
def proofs_incomplete(book: Book, visited: Visited) -> Iterator[Finding]:
    """Some kind of door goes back into service without a proof that its devices ask for.

    What each door must have proved is said a second time, apart from the proofs, under `assurances` in
    shared/phrases.yaml. Every combination of the facts that either mentions is looked at. A device that no
    assurance speaks of is named too: somebody has to say that it protects nobody.

    Passes:
        assurances: {each-photo-eye: {applies: {devices: photo-eye}, proofs: [eye-blocks-closing], …}}
        proofs: {eye-blocks-closing: {applies: {devices: photo-eye}, …}}
    Fails:
        proofs: {eye-blocks-closing: {applies: {devices: photo-eye, drive: trolley}, …}}
    """
    trees = book.trees
    assurances = list(trees.assurances.values())
    required = [proof for proof in trees.proofs.values() if proof.required == "yes"]
    entries: list[Assurance | Proof] = [*assurances, *required]
    told_apart = [each for entry in entries for each in (entry.applies, entry.unless)]
    doors = all_doors(trees, told_apart)
    for assurance in assurances:
        visited.add(doors.count)
        if not assurance.proofs:
            continue
        missing = _fit(doors, assurance) & ~_proved(trees, assurance, required, doors)
        if missing.any():
            door = door_in_words(trees, doors.facts(int(np.argmax(missing))))
            wrong = f"{int(missing.sum())} kinds of door lack a proof of “{assurance.title}”, such as: {door}."
            mend = f"Let {' or '.join(assurance.proofs)} apply to them and be required. {assurance.why}"
            yield Finding(book.place("assurances", assurance.id), wrong, mend)
        yield from _wrong_people(book, assurance)
    yield from _unspoken(book)


def _fit(doors: Doors, entry: Assurance | Proof) -> Mask:
    """The doors an entry is for, [doors]."""
    fit = doors.fit(entry.applies)
    return fit & ~doors.fit(entry.unless) if entry.unless else fit


def _proved(trees: Trees, assurance: Assurance, required: list[Proof], doors: Doors) -> Mask:
    """The doors on which one of the assurance's proofs is required, [doors]."""
    proved = np.zeros(doors.count, dtype=bool)
    for proof in required:
        if proof.id in assurance.proofs:
            proved |= _fit(doors, proof)
    return proved


def _wrong_people(book: Book, assurance: Assurance) -> Iterator[Finding]:
    for name in assurance.proofs:
        proof = book.trees.proofs[name]
        if assurance.only_by and proof.who not in assurance.only_by:
            wrong = (
                f"'{name}' may be run by: {proof.who}; “{assurance.title}” is only for: {', '.join(assurance.only_by)}."
            )
            yield Finding(book.place("proofs", name, "who"), wrong, assurance.why)


def _unspoken(book: Book) -> Iterator[Finding]:
    """Facts that decide what is to be proved and are not asked first, and devices that no assurance speaks of."""
    trees = book.trees
    spoken: dict[str, set[str]] = {}
    for assurance in trees.assurances.values():
        for conditions in (assurance.applies, assurance.unless):
            for fact, values in conditions.items():
                spoken.setdefault(fact, set()).update(values)
    for fact, named in spoken.items():
        if trees.facts[fact].first != "yes":
            wrong = f"What has to be proved hangs on '{fact}', which is not asked at the start."
            yield Finding(book.place("facts", fact), wrong, "Write 'first: yes'.")
        unspoken = [value for value in trees.facts[fact].answers if value not in named]
        if trees.facts[fact].many == "yes" and unspoken:
            wrong = f"No assurance says what is to be proved of: {', '.join(unspoken)}."
            mend = "Name it in one, or in one without proofs if it protects nobody."
            yield Finding(book.place("facts", fact, "answers"), wrong, mend)


@rule("hazard-unproved", "error")
def hazard_unproved(book: Book) -> Iterator[Finding]:
    """An answer that means danger calls for no proof, so that what was seen could be forgotten.

    Passes:
        dangers: {spring-broken: {signs: {spring-gap: [gap in a coil]}, …}}
        proofs: {springs-whole: {seen: {spring-gap: [gap in a coil]}, …}}
    Fails:
        dangers: {spring-broken: {signs: {spring-gap: [gap in a coil]}, …}}
        proofs: {}                                   # nobody has to show that the spring was made good
    """
    trees = book.trees
    called_for: dict[str, set[str]] = {}
    for proof in trees.proofs.values():
        for check, answers in proof.seen.items():
            called_for.setdefault(check, set()).update(answers)
    for danger in trees.dangers.values():
        for check, answers in danger.signs.items():
            forgotten = [answer for answer in answers if answer not in called_for.get(check, ())]
            if forgotten:
                wrong = f"'{check}' answered {' or '.join(forgotten)} means danger, and no proof is needed of it."
                mend = f"Write 'seen: {{{check}: [{', '.join(forgotten)}]}}' on the proof that shows it made good."
                yield Finding(book.place("dangers", danger.id, "signs"), wrong, mend)


# A cause shows a hazard where one door in so many that have it does.
_SHOWS = 0.2


@rule("hazard-not-mended", "error")
def hazard_not_mended(book: Book) -> Iterator[Finding]:
    """A hazard that was seen can be proved made good after no remedy of a cause that shows it.

    A door on which that cause was found and mended could then never go back into service.

    Passes:
        causes: {spring-broken: {signs: {spring-gap: {gap in a coil: always}}, remedies: [replace-springs], …}}
        proofs: {springs-whole: {seen: {spring-gap: [gap in a coil]}, after: [replace-springs], …}}
    Fails:
        proofs: {springs-whole: {seen: {spring-gap: [gap in a coil]}, after: [oil-the-springs], …}}
    """
    trees = book.trees
    for proof in trees.proofs.values():
        for identity, answers in proof.seen.items() if proof.after else ():
            check = trees.checks[identity]
            for cause in trees.causes.values():
                shown = _chance(cause.signs.get(identity), check, answers)
                if shown >= _SHOWS and not set(cause.remedies) & set(proof.after):
                    wrong = f"'{proof.id}' passes after no remedy of '{cause.id}', which shows '{identity}' like that."
                    mend = f"Name one of them in 'after': {', '.join(cause.remedies)}."
                    yield Finding(book.place("proofs", proof.id, "after"), wrong, mend)


def _chance(spread: Distribution | None, check: Check, answers: tuple[str, ...]) -> float:
    """The chance that a check is answered by one of ``answers``, which are words or bands of readings."""
    if spread is None:
        return 0.0
    if isinstance(spread, Shares):
        return sum(spread.shares.get(answer, 0.0) for answer in answers)
    bands = (read_band(answer, check.unit) for answer in answers)
    return sum(probability(spread, *band) for band in bands if band is not None)


@rule("proofs-out-of-order", "error")
def proofs_out_of_order(book: Book) -> Iterator[Finding]:
    """A proof stands apart from the others of its state of the door, or one by hand after one under power.

    Proofs are put in the order in which they are written. What moves by hand is tried before the motor moves it, and
    a state of the door is entered once.

    Passes:
        proofs: {by-hand: {energy: locked off, …}, two-runs: {energy: powered, …}, ten-runs: {energy: powered, …}}
    Fails:
        proofs: {two-runs: {energy: powered, …}, by-hand: {energy: locked off, …}, ten-runs: {energy: powered, …}}
    """
    trees = book.trees
    last: dict[str, str] = {}
    for proof in trees.proofs.values():
        if proof.energy == ANY:
            continue
        powered = [name for state, name in last.items() if trees.energy[state].powered == "yes"]
        place = book.place("proofs", proof.id, "energy")
        if powered and trees.energy[proof.energy].powered == "no":
            wrong = f"'{proof.id}' needs the power off and stands behind '{powered[-1]}', which needs it on."
            yield Finding(place, wrong, "Write it before what is done under power.")
        elif proof.energy in last and next(reversed(last)) != proof.energy:
            wrong = f"'{proof.id}' and '{last[proof.energy]}' are of one state of the door, with another between them."
            yield Finding(place, wrong, "Write the proofs of each state together.")
        last.pop(proof.energy, None)
        last[proof.energy] = proof.id
