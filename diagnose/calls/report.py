"""The record of a call, as the customer gets it: one page of what matters, and a technical appendix.

The record is one ``Document``, drawn up here and in ``appendix``, and rendered as plain text, HTML or PDF. Of causes it
names only those that a repair confirmed. What was undone or withdrawn stands in the history alone.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone

from diagnose.calls import events as ev
from diagnose.calls.appendix import FIRST_PROOFS, Appendix, OfCall, figures
from diagnose.calls.call import Call
from diagnose.calls.closing import Missing
from diagnose.calls.document import (
    Block,
    Document,
    Heading,
    Items,
    Line,
    Logo,
    Paper,
    Signatures,
    Table,
    soft,
)
from diagnose.calls.owner_list import NOTHING_TO_PLAN, owner_list
from diagnose.calls.state import Proof, standing
from diagnose.calls.trend_words import PLAN, due_at
from diagnose.calls.verdict import mended
from diagnose.calls.words import answer_in_words, title, with_absent
from diagnose.knowledge.model import applies

NOTICE = (
    "This record was made with a program that advises. Local codes, the maker's instructions and licensed practice "
    "come first. A door whose entrapment protection is faulty stays out of service, or on constant-pressure control in "
    "sight of the door where the local code and the maker's instructions allow it."
)
# What fits on the first page; more is counted there and stands in the appendix.
_MOST_LEFT, _MOST_DONE, _MOST_FOUND = 8, 8, 4
_LONGEST = 300


@dataclass(frozen=True)
class Firm:
    """Who the record is from. ``terms`` stand above the signatures, ``foot`` below each page; both are text in which
    ``{firm}``, ``{site}``, ``{door}``, ``{call}`` and ``{date}`` are filled in."""

    name: str = ""
    logo: Logo | None = None
    terms: str = ""
    foot: str = ""
    paper: Paper = "letter"


def record(call: Call, call_id: str = "", *, firm: Firm | None = None, offset: timedelta | None = None) -> Document:
    """The record. Times are in the zone ``offset`` from UTC; by default the local one of that day."""
    return _Record(call, call_id, firm or Firm(), offset).document()


def result_of(call: Call) -> tuple[str, str]:
    """What the call comes to, in a few words, and in a sentence or two."""
    state, reason = call.state, call.state.reason
    nobody = "Nobody has looked at the door, and it has not been proved safe."
    match state.outcome:
        case "returned to service" | "handed over":
            return state.outcome, reason or "Every proof that this door needs has passed."
        case "left out of service":
            return state.outcome, " ".join(filter(None, (reason, "The door must not be used.", _danger_said(call))))
        case "ended without a visit":
            return "no visit was made", " ".join(filter(None, (reason, nobody, _danger_said(call))))
    if not state.at_the_door:
        return "not finished", nobody
    unsafe = [each for each in call.missing() if each.kind in ("failed proof", "proof", "job", "power")]
    if state.waiting and not unsafe:
        return "made safe, waiting", f"Every proof that this door needs has passed. {_sentence(state.waiting)}"
    unproved = "The door has not been proved safe, and is not returned to service."
    if state.waiting:
        return "not finished, waiting", f"{_sentence(state.waiting)} {unproved}"
    return "not finished", unproved


def _danger_said(call: Call) -> str:
    """Signs of danger that somebody told of and nobody has taken back."""
    named = [title(call.trees, "dangers", name) for name, answer in call.state.dangers.items() if answer == "yes"]
    return f"A danger was said to be there, and nobody has said that it is over: {'; '.join(named)}." if named else ""


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


class _Record(OfCall):
    """One call's record; each method draws up one part of the first page, or nothing where there is nothing to say."""

    def __init__(self, call: Call, call_id: str, firm: Firm, offset: timedelta | None) -> None:
        self.call_id, self.firm = call_id, firm
        opened = datetime.fromisoformat(call.state.opened_at)
        local = opened.astimezone().utcoffset() if offset is None else offset
        super().__init__(call, timezone(local or timedelta()))

    def document(self) -> Document:
        walk = self.call.walk
        name = walk.title if walk is not None else "Service record"
        head = f"{name}, {self.call_id}" if self.call_id else name
        parts = (self._door, self._result, self._wrong, self._done, self._proofs, self._left, self._plan, self._end)
        first = [Heading(soft(head), 1), *(block for part in parts for block in part())]
        return Document(
            title=soft(head),
            head=soft(self.firm.name),
            logo=self.firm.logo,
            first=tuple(first),
            rest=tuple(Appendix(self.call, self.zone).blocks()),
            foot=soft(" · ".join(filter(None, (self._filled(self.firm.foot), self._about())))),
            paper=self.firm.paper,
        )

    # --- parts ---------------------------------------------------------------------------------------------------

    def _door(self) -> Iterator[Block]:
        state = self.state
        customer = ", ".join(filter(None, (state.caller, state.number))) or "not named"
        rows = [
            ("Site", state.site or "not named", "Opened", self._time(state.opened_at)),
            ("Door", state.door or "not named", "Last entry", self._time(state.last_at)),
            ("Caller", customer, "Recorded by", ", ".join(self._writers()) or "not named"),
        ]
        yield Table(("", "", "", ""), tuple(tuple(map(soft, row)) for row in rows), (0, 3, 0, 3))
        complaints = [title(self.trees, "symptoms", each) for each in state.symptoms]
        complaints += [f"{title(self.trees, 'symptoms', each)} (stated before)" for each in self._stated_before()]
        if complaints or self.call.walk is None:
            yield Heading("Complaint")
            yield from self._items(complaints, _MOST_DONE) if complaints else (Line("None was stated."),)

    def _stated_before(self) -> list[str]:
        """Complaints that others took the place of, a failed proof's that of the first one for instance."""
        stated = [e for e in standing(self.call.events) if isinstance(e, (ev.Opened, ev.SymptomsStated))]
        every = dict.fromkeys(symptom for event in stated for symptom in event.symptoms)
        return [symptom for symptom in every if symptom not in self.state.symptoms]

    def _result(self) -> Iterator[Block]:
        large, said = result_of(self.call)
        yield Line(soft(large), "result")
        state = self.trees.energy.get(self.state.energy)
        if self.state.outcome not in ("returned to service", "handed over") and state is not None:
            said += f" It was last brought into this state: {state.title}."
        yield Line(soft(said[:_LONGEST]), "strong")

    def _wrong(self) -> Iterator[Block]:
        found, lines = mended(self.call), []
        for each in found:
            if each.cause is not None:
                lines.append(f"{each.cause.title}. {each.cause.explain}".strip())
            else:
                remedy = title(self.trees, "remedies", each.done.remedy)
                lines.append(f"Not confirmed: “{remedy}” ended it, and more than one fault would explain that.")
        if self.state.symptoms and not found:
            lines.append("Not confirmed.")
        lines += [
            f"Not right: {title(self.trees, 'jobs', job.job)}. {job.reason}".strip()
            for job in self.state.jobs.values()
            if job.came == "not right"
        ]
        lines += self._hazards()
        if lines:
            yield Heading("What was wrong")
            yield from self._items(lines, _MOST_FOUND + len(found))

    def _hazards(self) -> Iterator[str]:
        """Hazards that were seen, in the words of the check and its answer; what was seen needs no guess."""
        answers, ledger = self.state.answers, self.call.ledger
        for name in dict.fromkeys(check for checks in ledger.seen.values() for check in checks):
            proofs = {proof for proof, checks in ledger.seen.items() if name in checks}
            if name in answers and not (ledger.passed >= proofs):
                check = self.trees.checks[name]
                yield f"Found: {check.text} {answer_in_words(check, answers[name])}"

    def _done(self) -> Iterator[Block]:
        yield Heading("What was done")
        if not self.state.at_the_door:
            told = len(self.state.answers)
            answers = "one answer is" if told == 1 else f"{told} answers are"
            on_phone = f"The caller was asked on the phone; {answers} in the appendix."
            yield Line(on_phone if told else "Nothing was done at the door.")
            return
        rows = []
        for item in self.state.tries:
            ended = {True: "the complaint went away", False: "the complaint stayed", None: "not judged yet"}
            said = [f"{title(self.trees, 'symptoms', s)}: {now}" for s, now in item.outcomes.items()]
            outcome = "; ".join(said) if len(set(item.outcomes.values())) > 1 else ended[item.worked]
            who = self._who(item.at, self.by.get(item.sequence, ""))
            rows.append((soft(title(self.trees, "remedies", item.remedy)), soft(outcome), soft(who)))
        if len(rows) > _MOST_DONE:
            rows = [(f"{len(rows) - _MOST_DONE} earlier repairs: see the history", "", ""), *rows[-_MOST_DONE:]]
        if rows:
            yield Table(("Repair", "Result", "When and who"), tuple(rows), (3, 2, 0))
        yield from self._jobs_done()
        if not rows and self.call.walk is None:
            looked = len(self.state.answers)
            answers = "one answer" if looked == 1 else f"{looked} answers"
            yield Line(f"The door was looked at: {answers}. No repair was done.")
        parts = self._parts()
        if parts:
            yield Line(soft(f"Parts that these repairs take: {parts}."))

    def _jobs_done(self) -> Iterator[Block]:
        walk, rows = self.call.walk, []
        for stage in walk.stages.values() if walk is not None else ():
            mine = [j for j in stage.jobs if j in self.trees.jobs and self._has(j)]
            came = Counter(self.state.jobs[job].came if job in self.state.jobs else "open" for job in mine)
            if mine:
                said = ", ".join(f"{count} {name}" for name, count in came.items())
                rows.append((soft(stage.title), said))
        if rows:
            yield Table(("Stage", "Jobs"), tuple(rows), (3, 2))

    def _has(self, job: str) -> bool:
        return job in self.state.jobs or applies(self.trees.jobs[job].applies, self.call.facts)

    def _parts(self) -> str:
        used: Counter[str] = Counter()
        for item in self.state.tries:
            remedy = self.trees.remedies.get(item.remedy)
            used.update(remedy.parts if remedy is not None else {})
        return ", ".join(f"{count} × {title(self.trees, 'parts', part)}" for part, count in used.items())

    def _proofs(self) -> Iterator[Block]:
        results, needed = self.state.proofs, {proof.id: proof for proof in self.call.needed_proofs()}
        if not self.state.at_the_door:
            return
        latest = {item.proof: item for item in self.state.evidence if isinstance(item, Proof)}
        order = [*(p for p in results if not results[p]), *(p for p in results if results[p])]
        rows = []
        for name in order:
            proof = self.trees.proofs.get(name)
            read = figures(self.call, proof) if proof is not None else ""
            said = f"{proof.passes_when}{f' Read: {read}.' if read else ''}" if proof is not None else ""
            result = "passed" if results[name] else "DID NOT PASS"
            who = self._who(latest[name].at, self.by.get(latest[name].sequence, ""))
            rows.append((soft(title(self.trees, "proofs", name)), soft(said), f"{result}, {soft(who)}"))
        missing = [each.title for each in self.call.open_proofs() if results.get(each.id) is not False]
        if rows or missing:
            yield Heading("Proofs that the door is safe")
        if rows:
            yield Table(("Proof", "Passes when, and what was read", "Result"), tuple(rows[:FIRST_PROOFS]), (3, 4, 2))
        if len(rows) > FIRST_PROOFS:
            more = [results[name] for name in order[FIRST_PROOFS:]]
            yield Line(f"{len(more)} more, {'all passed' if all(more) else 'not all passed'}: see the appendix.")
        if missing:
            said = "Not proved" if not self.state.tries else "Not proved since the last work"
            yield Line(soft(_listed(f"{said}: ", missing, _MOST_LEFT)))
        elif needed and not self.call.open_proofs():
            yield Line("Every proof that this door needs has passed.")

    def _left(self) -> Iterator[Block]:
        """What is still to be done, and by when where that is known."""
        rows = [(f"To come: {title(self.trees, 'people', who)}", when) for who, when in self.state.coming.items()]
        waiting = [title(self.trees, "symptoms", symptom) for symptom in self.state.waiting_for]
        if waiting:
            rows.append((f"Look again whether it is gone: {'; '.join(waiting)}", self.state.look_again))
        rows += [(what, "") for what in self._put_off()]
        if self.state.outcome not in ("returned to service", "handed over"):
            missing = [each for each in self.call.missing() if each.kind not in ("proof", "nothing done")]
            rows += [(self._missing_in_words(each), "") for each in missing if each.id not in self.state.waiting_for]
            if self.state.at_the_door and any(each.kind == "proof" for each in self.call.missing()):
                rows.append(("The proofs named above, before the door goes back into service", ""))
        if not rows:
            return
        yield Heading("What is left")
        cells = tuple((soft(what), soft(when) or "_" * 16) for what, when in rows[:_MOST_LEFT])
        yield Table(("What", "By when"), cells, (5, 0))
        if len(rows) > _MOST_LEFT:
            yield Line(f"{len(rows) - _MOST_LEFT} more stand in the appendix.")

    def _missing_in_words(self, missing: Missing) -> str:
        """As whoever reads the paper needs it: of a complaint, what it does now."""
        if missing.kind != "complaint" or not missing.id:
            return missing.sentence
        said = {"still there": "still there", "better": "better, not gone"}
        return f"{missing.title}: {said.get(self.state.outcomes.get(missing.id, ''), 'not yet seen to be gone')}"

    def _plan(self) -> Iterator[Block]:
        """What is due at the next visit; of a walk that hands it over, the whole list for the owner."""
        walk = self.call.walk
        if walk is not None and any(self.trees.jobs[job].lists == "yes" for job in walk.jobs):
            yield Heading("For the owner")
            yield from self._items(owner_list(self.call, "both") or [NOTHING_TO_PLAN], _MOST_LEFT)
        elif planned := due_at(self.call, "both"):
            yield Heading(PLAN)
            yield from self._items(planned, _MOST_LEFT)

    def _put_off(self) -> Iterator[str]:
        """What was left for later and never done. That something was put off and done then is nobody's concern."""
        done = {("check", check) for check in (*self.state.answers, *self.call.inference.known)}
        done |= {("remedy", item.remedy) for item in self.state.tries}
        done |= {("proof", item.proof) for item in self.state.evidence if isinstance(item, Proof)}
        kinds = {"check": "Look or measure", "remedy": "Repair", "proof": "Prove", "job": "Do"}
        for kind, step in self.state.put_off:
            if (kind, step) not in done and kind in kinds:
                yield f"Put off: {kinds[kind]}: {with_absent(self.call, step, kind)}"

    def _end(self) -> Iterator[Block]:
        if self.firm.terms:
            yield from (
                Line(soft(self._filled(each)), "small") for each in self.firm.terms.splitlines() if each.strip()
            )
        yield Line(NOTICE, "small")
        yield Signatures((("For the firm", soft(", ".join(self._writers()))), ("For the customer", "")))

    # --- words ---------------------------------------------------------------------------------------------------

    def _items(self, texts: Iterable[str], most: int) -> Iterator[Block]:
        texts = list(texts)
        more = [f"{len(texts) - most} more stand in the appendix."] if len(texts) > most else []
        yield Items(tuple(soft(text[:_LONGEST]) for text in [*texts[:most], *more]))

    def _writers(self) -> list[str]:
        return list(dict.fromkeys(event.by for event in self.call.events if event.by))

    def _about(self) -> str:
        where = ", ".join(filter(None, (self.state.site, self.state.door)))
        return " · ".join(filter(None, (where, f"call {self.call_id}" if self.call_id else "")))

    def _filled(self, wording: str) -> str:
        """The firm's wording with the names it may have in it filled in; any other stays as it is written."""
        values = {
            "firm": self.firm.name,
            "site": self.state.site,
            "door": self.state.door,
            "call": self.call_id,
            "date": self._time(self.state.last_at).partition(" ")[0],
        }
        return re.sub(r"\{(\w+)\}", lambda found: values.get(found[1], found[0]), wording)


def _listed(head: str, texts: list[str], most: int) -> str:
    more = f" and {len(texts) - most} more" if len(texts) > most else ""
    return f"{head}{'; '.join(texts[:most])}{more}."
