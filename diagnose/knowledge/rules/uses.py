"""Everything that is written is there for something."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.knowledge.checker import Book, Fault, Finding, rule, rule_of
from diagnose.knowledge.doors import meet
from diagnose.knowledge.model import KINDS, Cause, Check, Proof, Remedy, Trees
from diagnose.knowledge.problems import did_you_mean
from diagnose.knowledge.texts import caller_texts


@rule("unused", "warning")
def unused(book: Book) -> Iterator[Finding]:
    """A part, caution, instrument, family or person that nothing names, or a remedy that no cause is removed by.

    It is left over from a change, or its name is mistyped where it should stand.

    Passes:
        parts: {fuse: {title: fuse, …}}
        remedies: {new-fuse: {parts: {fuse: 1}, …}}
    Fails:
        parts: {fuse: {title: fuse, …}}        # and no remedy takes one
    """
    trees = book.trees
    named = _named(trees)
    for kind, word in _CAN_BE_UNUSED.items():
        for identity in book.entries(kind):
            if identity not in named[kind]:
                wrong = f"Nothing uses the {word} '{identity}'."
                yield Finding(book.place(kind, identity), wrong, "Name it where it belongs, or take it out.")


_CAN_BE_UNUSED = {
    "parts": "part",
    "cautions": "caution",
    "instruments": "instrument",
    "remedies": "remedy",
    "families": "family",
    "people": "person",
}


def _named(trees: Trees) -> dict[str, set[str]]:
    steps = [*trees.checks.values(), *trees.remedies.values(), *trees.proofs.values()]
    cautions = [step.cautions for step in steps]
    cautions += [state.cautions for state in trees.energy.values()]
    cautions += [place.cautions for place in trees.access.values()]
    asked = [check.instrument.id for check in trees.checks.values() if check.instrument]
    people = {step.who for step in steps} | {who for danger in trees.dangers.values() for who in danger.who}
    # Who is included in somebody that is named counts as named.
    people |= {who for person in people if person in trees.people for who in trees.people[person].includes}
    return {
        "parts": {part for remedy in trees.remedies.values() for part in remedy.parts},
        "cautions": {caution for some in cautions for caution in some},
        "instruments": set(asked),
        "remedies": {remedy for cause in trees.causes.values() for remedy in cause.remedies},
        "families": {symptom.family for symptom in trees.symptoms.values()},
        "people": people,
    }


@rule_of(["causes"], "cause-not-raised")
def cause_not_raised(book: Book, cause: Cause) -> Iterator[Fault]:
    """A cause that no symptom names, or none on any door it applies to: it can never be suspected.

    Passes:
        symptoms: {dark: {causes: {fuse: probable}, …}}
        causes: {fuse: …}
    Fails:
        causes: {fuse: …}                      # and no symptom's causes name it
    """
    raising = [symptom for symptom in book.trees.symptoms.values() if cause.id in symptom.causes]
    if not raising:
        mend = "Name it among the causes of a symptom, or write 'symptoms:' in it."
        yield Fault(f"No symptom raises '{cause.id}'.", mend)
    elif not any(meet(book.trees, cause.applies, symptom.applies) for symptom in raising):
        wrong = f"The symptoms that raise '{cause.id}' are never those of a door it applies to."
        yield Fault(wrong, "Bring its 'applies' and theirs together.", ("applies",))


@rule("never-asked", "warning")
def never_asked(book: Book) -> Iterator[Finding]:
    """A check that no cause changes, that no computed check takes, and that comes before nothing: nobody is asked it.

    Passes:
        causes: {fuse: {signs: {lamp: {dark: always}}, …}}
        checks: {lamp: {ask: Is it lit?, answers: [lit, dark], …}}
    Fails:
        checks: {lamp: {ask: Is it lit?, answers: [lit, dark], …}}      # and no cause has it among its signs
    """
    trees = book.trees
    bearing = {check for cause in trees.causes.values() for check in cause.signs}
    for check in trees.checks.values():
        bearing.update(check.after, check.inputs.values(), [check.measured])
    bearing.update(read for job in trees.jobs.values() for read in job.reads)
    for remedy in trees.remedies.values():
        bearing.update([*remedy.after, *remedy.sizes])
    for check in trees.checks.values():
        if check.id not in bearing:
            wrong = f"'{check.id}' is never asked: it bears on no cause, feeds no computed check and comes before none."
            mend = "Give it to a cause as a sign, or take it out."
            yield Finding(book.place("checks", check.id), wrong, mend)


@rule_of(["checks"], "sign-without-healthy")
def sign_without_healthy(book: Book, check: Check) -> Iterator[Fault]:
    """A cause has a sign on a check that does not say what a healthy door shows: the sign counts for nothing.

    Passes:
        checks: {lamp: {healthy: {lit: always}, …}}
        causes: {fuse: {signs: {lamp: {dark: always}}, …}}
    Fails:
        checks: {lamp: {…}}                    # no healthy
        causes: {fuse: {signs: {lamp: {dark: always}}, …}}
    """
    trees = book.trees
    having = [cause.id for cause in trees.causes.values() if check.id in cause.signs]
    if check.healthy is None and having:
        wrong = f"'{check.id}' does not say what a healthy door shows, so that what '{having[0]}' shows is no sign."
        yield Fault(wrong, "Write 'healthy:'.")


@rule_of(["proofs"], "proof-no-door-needs", "warning")
def proof_no_door_needs(book: Book, proof: Proof) -> Iterator[Fault]:
    """A proof that is not required of any door, that no remedy for such a door names and nothing seen calls for.

    One with ``unless`` is needed where what it names was taken off.

    Passes:
        proofs: {ten-cycles: {required: no, …}, springs-whole: {required: no, seen: {spring-gap: [gap in a coil]}, …}}
        remedies: {set-force: {proofs: [ten-cycles], …}}
    Fails:
        proofs: {ten-cycles: {required: no, …}}     # and no remedy names it
    """
    trees = book.trees
    naming = [remedy for remedy in trees.remedies.values() if proof.id in remedy.proofs]
    if proof.required == "yes":
        if not meet(trees, proof.applies):
            wrong = f"No door is one that '{proof.id}' applies to."
            yield Fault(wrong, "Look at its 'applies'.", ("applies",))
    elif (
        not proof.seen and not proof.unless and not any(meet(trees, proof.applies, remedy.applies) for remedy in naming)
    ):
        wrong = f"No door needs '{proof.id}': it is not required, and no remedy for such a door names it."
        yield Fault(wrong, "Name it in a remedy, or write 'required: yes'.")


@rule_of(["remedies"], "remedy-without-proof")
def remedy_without_proof(book: Book, remedy: Remedy) -> Iterator[Fault]:
    """A remedy names no proof that applies to a door it is for, so that nobody tries whether it worked.

    Passes:
        remedies: {new-fuse: {proofs: [both-limits], …}}
    Fails:
        remedies: {new-fuse: {…}}              # no proofs
    """
    if not remedy.proofs:
        yield Fault(f"Nothing proves '{remedy.id}'.", "Write 'proofs: [proof-id]'.", ("proofs",))
    for proof in remedy.proofs:
        if not meet(book.trees, remedy.applies, book.trees.proofs[proof].applies):
            wrong = f"'{proof}' never applies to a door that '{remedy.id}' is for."
            yield Fault(wrong, "Name another proof, or look at the 'applies' of both.", ("proofs",))


@rule_of(["causes"], "same-remedy-shares-none")
def same_remedy_shares_none(book: Book, cause: Cause) -> Iterator[Fault]:
    """Two causes say that no check need tell them apart because one remedy serves both, and no remedy does.

    Passes:
        causes:
          eye-dead: {same-remedy: [eye-failing], remedies: [replace-eye], …}
          eye-failing: {remedies: [replace-eye], …}
    Fails:
        causes:
          eye-dead: {same-remedy: [eye-dirty], remedies: [replace-eye], …}
          eye-dirty: {remedies: [clean-lens], …}
    """
    for other in cause.same_remedy:
        if not set(cause.remedies) & set(book.trees.causes[other].remedies):
            wrong = f"'{cause.id}' and '{other}' are said to need no telling apart, but share no remedy."
            mend = "Give both the remedy, or take 'same-remedy' out and find a check that tells them apart."
            yield Fault(wrong, mend, ("same-remedy",))


@rule("applies-never-met")
def applies_never_met(book: Book) -> Iterator[Finding]:
    """Two entries are tied to each other that no door has both of: a sign on a check, a remedy of a cause, an opening.

    Passes:
        causes: {chain-loose: {applies: {drive: trolley}, signs: {chain-sag: …}, …}}
        checks: {chain-sag: {applies: {drive: trolley}, …}}
    Fails:
        causes: {chain-loose: {applies: {drive: jackshaft}, signs: {chain-sag: …}, …}}
        checks: {chain-sag: {applies: {drive: trolley}, …}}
    """
    trees = book.trees
    mend = "Look at the 'applies' of both, or untie them."
    for cause in trees.causes.values():
        ties = [*(("signs", check, trees.checks[check].applies) for check in cause.signs)]
        ties += [("remedies", remedy, trees.remedies[remedy].applies) for remedy in cause.remedies]
        for field, other, conditions in ties:
            if not meet(trees, cause.applies, conditions):
                wrong = f"No door that can have '{cause.id}' is one for '{other}'."
                yield Finding(book.place("causes", cause.id, field, other), wrong, mend)
    for check in trees.checks.values():
        for field in ("opens", "closes"):
            for answer, others in getattr(check, field).items():
                for other in others:
                    if not meet(trees, check.applies, trees.checks[other].applies):
                        wrong = f"'{check.id}' {field} '{other}', and no door has both."
                        yield Finding(book.place("checks", check.id, field, answer), wrong, mend)


@rule("translates-nothing", "warning")
def translates_nothing(book: Book) -> Iterator[Finding]:
    """A language has a text for an entry or an answer that is not there, or that no caller is told.

    Passes:
        languages: {es: {texts: {symptoms.dark.caller: Se apagó la luz.}, …}}
        symptoms: {dark: …}
    Fails:
        languages: {es: {texts: {symptoms.drak.caller: Se apagó la luz.}, …}}
    """
    told = caller_texts(book.trees)
    for language in book.trees.languages.values():
        for key in language.texts:
            # Keys of other kinds are the program's own sentences.
            if key not in told and key.partition(".")[0] in KINDS:
                wrong = f"'{key}' of '{language.id}' translates nothing."
                place = book.place("languages", language.id, "texts", key)
                yield Finding(place, wrong, did_you_mean(key, told))
    for saying in book.trees.sayings.values():
        if saying.id not in book.trees.languages:
            wrong = f"'{saying.id}' of the sayings is no language here."
            yield Finding(book.place("sayings", saying.id), wrong, did_you_mean(saying.id, book.trees.languages))
        for symptom in saying.says:
            if symptom not in book.trees.symptoms:
                place = book.place("sayings", saying.id, "says", symptom)
                wrong = f"'{symptom}' of '{saying.id}' is no complaint."
                yield Finding(place, wrong, did_you_mean(symptom, book.trees.symptoms))
    for synonym in book.trees.synonyms.values():
        if synonym.language and synonym.language not in book.trees.languages:
            place = book.place("synonyms", synonym.id, "language")
            wrong = f"'{synonym.language}' of '{synonym.id}' is no language here."
            yield Finding(place, wrong, did_you_mean(synonym.language, book.trees.languages))
