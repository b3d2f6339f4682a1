"""The record of a call, as Markdown and as one HTML page that needs nothing beside itself.

The Markdown is written here; the page is made from it. Whatever a person typed, and whatever a tree says, is escaped on
its way into the Markdown, so that in neither form can it become a heading, a table or a script. Nothing is left out
because it was taken back: the history shows every event.
"""

from __future__ import annotations

import html
import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, timezone

import numpy as np

from diagnose import __version__
from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.inference import Finding, Inference, infer, remedy_chances
from diagnose.calls.state import Answer, CallState, Proof, Try, standing
from diagnose.knowledge.model import UNLISTED, Caution, Check, Step, Trees, applies
from diagnose.quantities import QuantityError, show, to_si
from diagnose.quantities.show import Shown
from diagnose.reasoning.explain import absent, cause_title, percent

NOTICE = (
    "This record was made with a program that advises. Local codes, the maker's instructions and licensed practice "
    "come first. A door whose entrapment protection is faulty stays out of service, or on constant-pressure control in "
    "sight of the door where the local code and the maker's instructions allow it."
)
_WORDS = ("DANGER", "WARNING", "CAUTION", "NOTICE")
# Evidence that moves a cause's odds by less than this either way is not worth a line.
_TELLING = 1.25


@dataclass(frozen=True)
class Reason:
    """One answer for or against a cause, in words; ``factor`` multiplies the cause's odds against the average."""

    check: str
    found: str
    factor: float

    @property
    def words(self) -> str:
        times = self.factor if self.factor >= 1 else 1 / max(self.factor, 1e-9)
        shown = f"{times:.1f}" if times < 10 else f"{times:.0f}" if times < 1000 else "over 1000"
        return f"{shown} times {'likelier' if self.factor >= 1 else 'less likely'}"


@dataclass(frozen=True)
class Suspect:
    """A cause as it stood when it was judged, with the answers for and against it."""

    cause: str
    title: str
    explain: str
    probability: float
    reasons: tuple[Reason, ...]

    @property
    def telling(self) -> tuple[Reason, ...]:
        """The reasons that move it enough to be worth a line, strongest first."""
        return tuple(each for each in self.reasons if not 1 / _TELLING < each.factor < _TELLING)


@dataclass(frozen=True)
class Verdict:
    """The suspects, the leading one first. ``remedy`` is what removed it, where a remedy that worked says so."""

    suspects: tuple[Suspect, ...]
    remedy: str = ""

    @property
    def leading(self) -> Suspect | None:
        return self.suspects[0] if self.suspects else None


def verdict(call: Call, system: Shown = "both", most: int = 3) -> Verdict:
    """Which cause it was, as far as the call says.

    Where the last remedy worked, and no proof has failed since, belief is taken as it stood before it, and the cause is
    the likeliest of those it removes; otherwise belief is taken as it stands.
    """
    state = call.state
    worked = state.tries[-1] if state.proving else None
    inference = call.inference
    present = inference.belief.causes()
    order = _order(call)
    remedy = ""
    if worked is not None:
        before = replace(state, evidence=state.evidence[: state.evidence.index(worked)])
        inference = infer(call.situation, before)
        present = inference.belief.causes()
        removed = present * remedy_chances(inference.situation, worked.remedy)
        order = [int(index) for index in np.argsort(-present, kind="stable")]
        if removed.any():
            first = int(np.argmax(removed))
            order = [first, *(index for index in order if index != first)]
            remedy = worked.remedy
    suspects = tuple(_suspect(call.trees, inference, i, float(present[i]), system) for i in order[:most])
    return Verdict(suspects if state.symptoms else (), remedy)


def suspects_now(call: Call, system: Shown = "both") -> tuple[Suspect, ...]:
    """Every suspect as it is believed in the door now, in the order of ``Call.likely``."""
    present = call.inference.belief.causes()
    order = _order(call)
    return tuple(_suspect(call.trees, call.inference, i, float(present[i]), system) for i in order)


def _order(call: Call) -> Sequence[int]:
    causes = call.inference.situation.causes
    return [causes.index(each.cause) for each in call.likely()]


def leading_cause(trees: Trees) -> Callable[[list[ev.AnyEvent]], str]:
    """What a store lists as a call's cause: the one found, or the likeliest so far; ``""`` where nothing speaks."""

    def leading(events: list[ev.AnyEvent]) -> str:
        call = Call(trees, history=events)
        if not any(symptom in trees.symptoms for symptom in call.state.symptoms) or not call.state.evidence:
            return ""
        found = verdict(call, most=1).leading
        return found.cause if found else ""

    return leading


def _suspect(trees: Trees, inference: Inference, index: int, probability: float, system: Shown) -> Suspect:
    cause = inference.situation.causes[index]
    reasons = [
        Reason(each.check.text, _found(each, system), float(np.exp(each.weights[index]))) for each in inference.findings
    ]
    for item in inference.items:
        if isinstance(item, Try) and not item.worked:
            stays = 1 - float(remedy_chances(inference.situation, item.remedy)[index])
            reasons.append(Reason(title(trees, "remedies", item.remedy), "done, the complaint stayed", stays))
    reasons.sort(key=lambda reason: (-abs(np.log(max(reason.factor, 1e-9))), reason.check))
    explain = trees.causes[cause].explain if cause != UNLISTED else ""
    return Suspect(cause, cause_title(trees, cause), explain, probability, tuple(reasons))


def _found(finding: Finding, system: Shown) -> str:
    if isinstance(finding.value, str):
        return finding.value
    return _computed(finding.check, finding.value, 0.0, system)


def _computed(check: Check, value: float, error: float, system: Shown) -> str:
    """A number that was worked out, to the figures that its error leaves it, or to four."""
    step = check.instrument.step if check.instrument is not None else 0.0
    if not step and value:
        step = 10.0 ** math.floor(math.log10(error or abs(value) / 1000))
    return in_words(check, (to_si(value, check.unit),), "", system, step)


def in_words(
    check: Check | None, value: str | tuple[float, ...], unit: str, system: Shown = "both", step: float = 0.0
) -> str:
    """An answer as it is understood: the choice, or its SI numbers in the check's unit and the other system's.

    ``step`` is the smallest difference worth showing, by default that of the check's instrument.
    """
    if isinstance(value, str):
        return value
    if not step and check is not None and check.instrument is not None:
        step = check.instrument.step
    wanted = check.unit if check is not None else unit
    try:
        return "; ".join(show(number, wanted, system, step) for number in value)
    except QuantityError:
        return "; ".join(f"{number:g} {unit}".strip() for number in value)


def markdown_report(call: Call, call_id: str = "", *, offset: timedelta | None = None) -> str:
    """The record as Markdown. Times are in the zone ``offset`` from UTC; by default the local one of that day."""
    return _Report(call, call_id, offset).text()


def html_report(call: Call, call_id: str = "", *, offset: timedelta | None = None) -> str:
    """The record as one HTML page, with its own print stylesheet and no script, image or link."""
    body = html_of(markdown_report(call, call_id, offset=offset))
    return html_page(f"Record of call {call_id}".strip(), body)


def html_page(title: str, body: str, style: str = "") -> str:
    """One page that needs nothing beside itself, around ``body`` in HTML; ``style`` is added to the stylesheet."""
    return _PAGE.format(title=html.escape(title), style=_STYLE + style, body=body)


def html_of(markdown: str) -> str:
    """Markdown that was written here, as HTML."""
    from markdown_it import MarkdownIt

    reader = MarkdownIt("commonmark", {"html": False}).enable("table")
    # None of these is ever written here, so none can be typed either.
    reader.disable(["link", "image", "autolink", "html_inline", "html_block", "reference", "fence", "code"])
    return str(reader.render(markdown))


def escape(text: str) -> str:
    """Text as it stands in one line of Markdown, whatever is in it."""
    line = " ".join("".join(c if c.isprintable() or c.isspace() else "�" for c in text).split())
    line = re.sub(r"([\\`*_{}\[\]<>#|~&!$])", r"\\\1", line)
    # What makes a list or a rule only at the start of a line; "-67 dBm" and "1.4 V" make none.
    line = re.sub(r"^([-+])(?=\s|$)|^([-=])(?=[-=\s]*$)", r"\\\g<0>", line)
    return re.sub(r"^(\d{1,9})([.)])(?=\s|$)", r"\1\\\2", line)


class _Report:
    """One call's record; each method writes one section, or nothing where there is nothing to say."""

    def __init__(self, call: Call, call_id: str, offset: timedelta | None) -> None:
        self.call = call
        self.call_id = call_id
        self.trees = call.trees
        self.state: CallState = call.state
        self.events = call.events
        opened = datetime.fromisoformat(self.state.opened_at)
        local = opened.astimezone().utcoffset() if offset is None else offset
        self.zone = timezone(local or timedelta())

    def text(self) -> str:
        sections = (
            self._head,
            self._door,
            self._complaint,
            self._outcome,
            self._cause,
            self._answers,
            self._workings,
            self._work,
            self._proofs,
            self._put_off,
            self._cautions,
            self._notes,
            self._history,
            self._foot,
        )
        return "\n".join(line for section in sections for line in section()) + "\n"

    # --- sections ------------------------------------------------------------------------------------------

    def _head(self) -> list[str]:
        return [f"# Record of {f'call {escape(self.call_id)}' if self.call_id else 'a call'}", "", NOTICE, ""]

    def _door(self) -> list[str]:
        state = self.state
        rows = [("Site", escape(state.site or "not named")), ("Name of the door", escape(state.door or "not named"))]
        for fact, value in state.facts.items():
            known = self.trees.facts.get(fact)
            values = (value,) if isinstance(value, str) else value
            rows.append((escape(known.title if known else fact), escape(", ".join(values) or "none of those asked")))
        named = [person for person in state.people if person != "anyone"]
        people = ", ".join(self._title("people", person) for person in named or state.people)
        rows.append(("Opened", self._time(state.opened_at)))
        rows.append(("Last entry", self._time(state.last_at)))
        rows.append(("At the door", escape(people)))
        if state.energy:
            rows.append(("Last brought into the state", escape(self._title("energy", state.energy))))
        writers = dict.fromkeys(event.by for event in self.events if event.by)
        rows.append(("Recorded by", escape(", ".join(writers) or "not named")))
        return ["## The door", "", *table(("", ""), rows)]

    def _stated_before(self) -> list[str]:
        """Complaints that others took the place of, a failed proof's that of the first one for instance."""
        stated = [e for e in standing(self.call.events) if isinstance(e, (ev.Opened, ev.SymptomsStated))]
        every = dict.fromkeys(symptom for event in stated for symptom in event.symptoms)
        return [symptom for symptom in every if symptom not in self.state.symptoms]

    def _complaint(self) -> list[str]:
        lines = ["## The complaint", ""]
        lines += [f"- {escape(title(self.trees, 'symptoms', each))}" for each in self.state.symptoms]
        lines += [f"- {escape(title(self.trees, 'symptoms', each))} (stated before)" for each in self._stated_before()]
        if not self.state.symptoms:
            lines.append("None was stated.")
        lines.append("")
        if self.state.dangers:
            rows = [
                (escape(self.trees.dangers[each].ask if each in self.trees.dangers else each), escape(answer))
                for each, answer in self.state.dangers.items()
            ]
            lines += ["### Signs of danger asked about", "", *table(("Sign", "Answer"), rows)]
        return lines

    def _outcome(self) -> list[str]:
        state = self.state
        if state.outcome is None:
            said = "**The call is open.** The door has not been proved safe, and is not returned to service."
        else:
            said = f"**{escape(state.outcome.capitalize())}.**"
            if state.reason:
                said += f" {escape(state.reason)}"
        return ["## Outcome", "", said, ""]

    def _cause(self) -> list[str]:
        found = verdict(self.call)
        leading = found.leading
        if leading is None:
            return []
        heading = "The cause" if found.remedy else "The likeliest cause so far"
        lines = [f"## {heading}", "", f"**{escape(leading.title)}**, {percent(leading.probability)}."]
        if found.remedy:
            lines[-1] = (
                f"**{escape(leading.title)}**, held {percent(leading.probability)} likely before it was removed by: "
                f"{escape(self._title('remedies', found.remedy))}."
            )
        lines += ["", *([escape(leading.explain), ""] if leading.explain else [])]
        if not found.remedy:
            lines += self._repairs_of(leading.cause)
        lines += self._evidence(leading, "The evidence for it and against it")
        for other in found.suspects[1:]:
            lines += self._evidence(other, f"{escape(other.title)}, {percent(other.probability)}")
        return lines

    def _repairs_of(self, cause: str) -> list[str]:
        """What would remove a cause that has not been removed, for whoever goes on from here."""
        known = self.trees.causes.get(cause)
        fit = [r for r in known.remedies if applies(self.trees.remedies[r].applies, self.state.facts)] if known else []
        if not fit:
            return []
        return ["It is removed by:", "", *(f"- {escape(with_absent(self.call, r))}" for r in fit), ""]

    def _evidence(self, suspect: Suspect, heading: str) -> list[str]:
        if not suspect.telling:
            return [f"### {heading}", "", "No answer speaks clearly for it or against it.", ""]
        rows = [(escape(r.check), escape(r.found), f"makes it {r.words}") for r in suspect.telling]
        return [f"### {heading}", "", *table(("Check or remedy", "Found", "Which"), rows)]

    def _answers(self) -> list[str]:
        answers = [item for item in self.state.evidence if isinstance(item, Answer)]
        if not answers:
            return ["## Answers", "", "No check was answered.", ""]
        rows = []
        for number, answer in enumerate(answers, start=1):
            check = self.trees.checks.get(answer.check)
            rows.append(
                (
                    str(number),
                    escape(check.text if check else answer.check),
                    " · ".join(f"“{escape(raw)}”" for raw in answer.raw),
                    escape(in_words(check, answer.value, answer.unit)),
                    self._time(answer.at),
                    escape(f"{answer.by or 'not named'}, {'as told' if answer.heard == 'told' else 'seen'}"),
                )
            )
        return ["## Answers", "", *table(("", "Check", "As given", "Taken as", "When", "Who"), rows)]

    def _workings(self) -> list[str]:
        rows = []
        for check_id, worked in self.call.inference.workings.items():
            check = self.trees.checks[check_id]
            value = worked.value
            said = value if isinstance(value, str) else _computed(check, value, worked.error, "both")
            if worked.error:
                said += f" ± {worked.error:.2g} {check.unit}".rstrip()
            rows.append((escape(check.text), escape(said), escape(worked.working)))
        if not rows:
            return []
        return ["## Worked out from the readings", "", *table(("What", "Value", "Working"), rows)]

    def _work(self) -> list[str]:
        rows = []
        for item in self.state.tries:
            remedy = self.trees.remedies.get(item.remedy)
            parts = remedy.parts if remedy else {}
            used = ", ".join(f"{count} × {self._title('parts', part)}" for part, count in parts.items())
            rows.append(
                (
                    self._time(item.at),
                    escape(self._title("remedies", item.remedy)),
                    "the complaint went away" if item.worked else "the complaint stayed",
                    escape(used or "none"),
                )
            )
        if not rows:
            return ["## Work done", "", "No remedy was tried.", ""]
        return ["## Work done", "", *table(("When", "Remedy", "Result", "Parts it takes"), rows)]

    def _proofs(self) -> list[str]:
        results, when = self.state.proofs, {i.proof: i.at for i in self.state.evidence if isinstance(i, Proof)}
        lines = ["## Proofs", ""]
        needed = {proof.id: proof for proof in self.call.needed_proofs()}
        rows = [
            (
                escape(self._title("proofs", proof)),
                "passed" if passed else "**did not pass**",
                self._time(when[proof]),
                escape(needed[proof].passes_when if proof in needed else "not needed for this door"),
            )
            for proof, passed in results.items()
        ]
        if rows:
            lines += table(("Proof", "Result", "When", "Passes when"), rows)
        missing = [proof for proof in needed.values() if proof.id not in results]
        if missing:
            lines += ["Not proved:" if not self.state.tries else "Not proved since the last work:", ""]
            lines += [f"- {escape(proof.title)}" for proof in missing] + [""]
        elif all(results.get(proof) for proof in needed):
            lines += ["Every proof that this door needs has passed.", ""]
        return lines

    def _put_off(self) -> list[str]:
        """What was left for later and never done. That something was put off and done then is nobody's concern."""
        done = {("check", check) for check in (*self.state.answers, *self.call.inference.known)}
        done |= {("remedy", item.remedy) for item in self.state.tries}
        done |= {("proof", item.proof) for item in self.state.evidence if isinstance(item, Proof)}
        never = [named for named in self.state.put_off if named not in done and named[0] != "stop"]
        if not never:
            return []
        kinds = {"check": "Look or measure", "remedy": "Repair", "proof": "Prove"}
        rows = [f"- {kinds[kind]}: {escape(with_absent(self.call, step, kind))}" for kind, step in never]
        return ["## Put off and not done", "", *rows, ""]

    def _cautions(self) -> list[str]:
        cautions = sorted(self._cautions_met(), key=lambda c: (_WORDS.index(c.word), c.id))
        if not cautions:
            return []
        lines = [f"- **{caution.word}:** {escape(caution.text)}" for caution in cautions]
        return ["## Cautions that applied", "", *lines, ""]

    def _cautions_met(self) -> list[Caution]:
        """Of every step done, where it was done from, and every state the door was brought into."""
        trees, names = self.trees, dict[str, None]()
        kinds: tuple[tuple[type[ev.Event], str, dict[str, Step]], ...] = (
            (ev.Answered, "check", dict(trees.checks)),
            (ev.Tried, "remedy", dict(trees.remedies)),
            (ev.RepairDone, "remedy", dict(trees.remedies)),
            (ev.Proved, "proof", dict(trees.proofs)),
        )
        for event in self.events:
            if isinstance(event, ev.EnergyEntered) and event.energy in trees.energy:
                names |= dict.fromkeys(trees.energy[event.energy].cautions)
            for kind, field, entries in kinds:
                if isinstance(event, kind) and getattr(event, field) in entries:
                    names |= dict.fromkeys(step_cautions(trees, entries[getattr(event, field)]))
        return [trees.cautions[name] for name in names]

    def _notes(self) -> list[str]:
        if not self.state.notes:
            return []
        return ["## Notes", "", *(f"- {self._time(at)}: {escape(text)}" for at, text in self.state.notes), ""]

    def _history(self) -> list[str]:
        remarks = remarks_on(self.events)
        rows = []
        for event in self.events:
            said = event_in_words(self.trees, event)
            remark = remarks.get(event.sequence, "")
            rows.append((str(event.sequence), self._time(event.at), escape(said), escape(event.by), remark))
        return ["## History", "", *table(("", "When", "What", "Who", ""), rows)]

    def _foot(self) -> list[str]:
        digests = list(dict.fromkeys(event.digest for event in self.events if event.digest))
        lines = [f"Times are {self.zone}. Made by diagnose {__version__}."]
        lines.append(f"Answered against the trees {', '.join(digests) or 'not named'}.")
        if digests and self.trees.digest[:16] not in digests:
            lines.append(f"Judged here by other trees, {self.trees.digest[:16]}.")
        return ["---", "", *lines]

    # --- words ---------------------------------------------------------------------------------------------

    def _title(self, kind: str, identity: str) -> str:
        return title(self.trees, kind, identity)

    def _time(self, at: str) -> str:
        try:
            return datetime.fromisoformat(at).astimezone(self.zone).strftime("%Y-%m-%d %H:%M")
        except ValueError:
            return escape(at)


def title(trees: Trees, kind: str, identity: str) -> str:
    """An entry's title, or its id where these trees do not know it."""
    return str(getattr(getattr(trees, kind).get(identity), "title", identity))


def step_title(trees: Trees, kind: str, identity: str) -> str:
    """What a step is, in the words of its entry; its id where these trees do not know it."""
    if kind == "check":
        return trees.checks[identity].text if identity in trees.checks else identity
    kinds = {"remedy": "remedies", "proof": "proofs", "energy": "energy"}
    return title(trees, kinds[kind], identity) if kind in kinds else identity


def absent_from(call: Call, kind: str, identity: str) -> str:
    """Who would have to come for a step (``needs an electrician, who is not here``); ``""`` where nobody would."""
    trees = call.trees
    homes: dict[str, Mapping[str, Step]] = {"check": trees.checks, "remedy": trees.remedies, "proof": trees.proofs}
    entry = homes.get(kind, {}).get(identity)
    return absent(trees, entry, call.state.people) if entry is not None else ""


def with_absent(call: Call, identity: str, kind: str = "remedy") -> str:
    """A step in the words of its entry, and who would have to come for it: ``New board (needs an electrician, …)``."""
    needs = absent_from(call, kind, identity)
    return step_title(call.trees, kind, identity) + (f" ({needs})" if needs else "")


def step_cautions(trees: Trees, step: Step) -> tuple[str, ...]:
    """The cautions of a step, the gravest first: its own, and those of the place it is done from."""
    place = trees.access.get(step.access)
    names = dict.fromkeys([*step.cautions, *(place.cautions if place else ())])
    return tuple(sorted(names, key=lambda name: _WORDS.index(trees.cautions[name].word)))


def remarks_on(events: Iterable[ev.AnyEvent]) -> dict[int, str]:
    """For each event that does not count any more, by sequence, what became of it."""
    events = tuple(events)
    counting = standing(events)
    kept = {event.sequence for event in counting}
    remarks = {e.sequence: "undone" for e in events if e.sequence not in kept and not isinstance(e, ev.Undone)}
    latest: dict[str, ev.Answered] = {}
    for event in reversed(counting):
        if isinstance(event, ev.Withdrawn):
            remarks |= {
                e.sequence: "taken back"
                for e in counting
                if isinstance(e, ev.Answered) and e.check == event.check and e.sequence < event.sequence
            }
        elif isinstance(event, ev.Answered):
            later = latest.pop(event.check, None)
            if later is not None:
                remarks.setdefault(event.sequence, f"replaced by {later.sequence}")
            if event.mode != "again":
                latest[event.check] = event
        elif isinstance(event, (ev.Tried, ev.RepairDone)):
            # Seen anew after a repair: both stand.
            latest = {check: later for check, later in latest.items() if later.mode == "correction"}
    return remarks


def event_in_words(trees: Trees, event: ev.AnyEvent) -> str:
    """One event in a sentence."""
    match event:
        case ev.Opened():
            return f"Call opened: {_listed(title(trees, 'symptoms', s) for s in event.symptoms) or 'no complaint yet'}"
        case ev.FactStated():
            value = event.value if isinstance(event.value, str) else ", ".join(event.value)
            became = f" (what was said before: {event.became})" if event.became else ""
            return f"{title(trees, 'facts', event.fact)}: {value or 'not known'}{became}{_because(event.reason)}"
        case ev.PlaceStated():
            return f"Where: {', '.join(filter(None, (event.site, event.door))) or 'not said'}"
        case ev.SymptomsStated():
            return f"Complaint: {_listed(title(trees, 'symptoms', s) for s in event.symptoms) or 'none'}"
        case ev.PeopleStated():
            return f"At the door: {_listed(title(trees, 'people', p) for p in event.people)}"
        case ev.Answered():
            check = trees.checks.get(event.check)
            meaning = in_words(check, event.value, event.unit)
            how = {"new": "", "again": " (read again)", "correction": " (corrected)"}[event.mode]
            told = ", as told" if event.heard == "told" else ""
            taken = "" if meaning == event.raw.strip() else f", taken as {meaning}"
            return f"{check.text if check else event.check} “{event.raw}”{taken}{told}{how}{_because(event.reason)}"
        case ev.Withdrawn():
            check = trees.checks.get(event.check)
            return f"Answer taken back: {check.text if check else event.check}{_because(event.reason)}"
        case ev.EnergyEntered():
            return f"Door brought into the state: {title(trees, 'energy', event.energy)}"
        case ev.Tried():
            result = "the complaint went away" if event.worked else "the complaint stayed"
            return f"Remedy done: {title(trees, 'remedies', event.remedy)}: {result}"
        case ev.RepairDone():
            return f"Remedy done: {title(trees, 'remedies', event.remedy)}"
        case ev.Judged():
            now = _listed(f"{title(trees, 'symptoms', each)}: {told}" for each, told in event.outcomes.items())
            return f"After it: {now}{f'; look again: {event.when}' if event.when else ''}"
        case ev.Proved():
            return f"Proof {'passed' if event.passed else 'did not pass'}: {title(trees, 'proofs', event.proof)}"
        case ev.PutOff():
            return f"Put off: {step_title(trees, event.kind, event.step)}"
        case ev.TakenUp():
            return f"Not put off any more: {step_title(trees, event.kind, event.step)}"
        case ev.DangerStated():
            return f"Sign of danger: {title(trees, 'dangers', event.danger)}: {event.answer}"
        case ev.Noted():
            return f"Note: {event.text}"
        case ev.Undone():
            return f"Entry {event.undoes} undone{_because(event.reason)}"
        case ev.Closed():
            return f"Call closed, {event.outcome}{f': {event.reason}' if event.reason else ''}"
        case ev.Reopened():
            return f"Call opened again{f': {event.reason}' if event.reason else ''}"


def _because(reason: str) -> str:
    return f"; because: {reason}" if reason else ""


def _listed(texts: Iterable[str]) -> str:
    return "; ".join(texts)


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    """A Markdown table of cells that are escaped already, and an empty line."""
    lines = [head, ["---"] * len(head), *rows]
    return [f"| {' | '.join(cells)} |" for cells in lines] + [""]


_STYLE = """
:root { color-scheme: light; }
body { font: 11pt/1.45 "Liberation Sans", Arial, Helvetica, sans-serif; color: #111; background: #fff;
       max-width: 48rem; margin: 2rem auto; padding: 0 1rem; overflow-wrap: anywhere; }
h1 { font-size: 1.5rem; margin-bottom: .5rem; }
h1 + p { border: 1px solid #111; padding: .5rem .75rem; }
h2 { font-size: 1.15rem; border-bottom: 1px solid #888; margin: 1.6rem 0 .5rem; }
h3 { font-size: 1rem; margin: 1rem 0 .3rem; }
table { border-collapse: collapse; width: 100%; font-size: .9rem; }
th, td { text-align: left; vertical-align: top; padding: .25rem .4rem; border-bottom: 1px solid #ccc; }
thead th:empty { padding: 0; }
hr { border: 0; border-top: 1px solid #888; margin-top: 2rem; }
hr + p { font-size: .85rem; }
@page { size: auto; margin: 16mm 14mm; }
@media print {
  body { font-size: 9.5pt; max-width: none; margin: 0; padding: 0; }
  h2, h3 { break-after: avoid; }
  tr, li { break-inside: avoid; }
  thead { display: table-header-group; }
}
"""
_PAGE = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<style>{style}</style>
</head>
<body>
{body}</body>
</html>
"""

__all__ = [
    "NOTICE",
    "Reason",
    "Suspect",
    "Verdict",
    "absent_from",
    "escape",
    "event_in_words",
    "html_of",
    "html_page",
    "html_report",
    "in_words",
    "leading_cause",
    "markdown_report",
    "percent",
    "remarks_on",
    "step_cautions",
    "step_title",
    "suspects_now",
    "table",
    "title",
    "verdict",
    "with_absent",
]
