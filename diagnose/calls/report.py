"""The record of a call, as Markdown and as one HTML page that needs nothing beside itself.

The Markdown is written here; the page is made from it. Whatever a person typed, and whatever a tree says, is escaped on
its way into the Markdown, so that in neither form can it become a heading, a table or a script. Nothing is left out
because it was taken back: the history shows every event.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta, timezone

from diagnose import __version__
from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.change_words import change_in_words, then_in_words
from diagnose.calls.state import Answer, CallState, Proof, standing
from diagnose.calls.then_and_now import change_of
from diagnose.calls.verdict import Suspect, verdict
from diagnose.calls.words import (
    cautions_named,
    cautions_of,
    computed_in_words,
    event_in_words,
    in_words,
    percent,
    remarks_on,
    title,
    with_absent,
)
from diagnose.knowledge.model import Caution, Task, applies
from diagnose.reasoning.chain import place_of

NOTICE = (
    "This record was made with a program that advises. Local codes, the maker's instructions and licensed practice "
    "come first. A door whose entrapment protection is faulty stays out of service, or on constant-pressure control in "
    "sight of the door where the local code and the maker's instructions allow it."
)


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
            self._then_and_now,
            self._workings,
            self._work,
            self._jobs,
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
        if self.call.walk is not None:
            named = f", {escape(self.call_id)}" if self.call_id else ""
            return [f"# {escape(self.call.walk.title)}{named}", "", NOTICE, ""]
        return [f"# Record of {f'call {escape(self.call_id)}' if self.call_id else 'a call'}", "", NOTICE, ""]

    def _door(self) -> list[str]:
        state = self.state
        rows = [("Site", escape(state.site or "not named")), ("Name of the door", escape(state.door or "not named"))]
        rows += [(name, escape(said)) for name, said in (("Caller", state.caller), ("Call back", state.number)) if said]
        for fact, value in state.facts.items():
            known = self.trees.facts.get(fact)
            values = (value,) if isinstance(value, str) else value
            rows.append((escape(known.title if known else fact), escape(", ".join(values) or "none of those asked")))
        named = [person for person in state.people if person != "anyone"]
        people = ", ".join(self._title("people", person) for person in named or state.people)
        coming = "; ".join(f"{self._title('people', person)}, {when}" for person, when in state.coming.items())
        rows.append(("Opened", self._time(state.opened_at)))
        rows.append(("Last entry", self._time(state.last_at)))
        rows.append(("At the door", escape(people)))
        if coming:
            rows.append(("Still to come", escape(coming)))
        if state.energy:
            rows.append(("Last brought into the state", escape(self._title("energy", state.energy))))
        writers = dict.fromkeys(event.by for event in self.events if event.by)
        rows.append(("Recorded by", escape(", ".join(writers) or "not named")))
        return ["## The door", "", *table(("", ""), rows)]

    def _jobs(self) -> list[str]:
        """The jobs of a walk by stage: how each came out, when, and by whom."""
        walk, done = self.call.walk, self.state.jobs
        if walk is None:
            return []
        lines = ["## Work done", ""]
        for stage in walk.stages.values():
            rows = []
            for job in (self.trees.jobs[name] for name in stage.jobs if name in self.trees.jobs):
                came = done.get(job.id)
                if came is None and not applies(job.applies, self.state.facts):
                    continue
                said = f"{came.came}{f': {came.reason}' if came.reason else ''}" if came else "open"
                when, by = (self._time(came.at), came.by or "not named") if came else ("", "")
                rows.append((escape(job.title), escape(job.passes_when), escape(said), when, escape(by)))
            if rows:
                lines += [f"### {escape(stage.title)}", "", *table(("Job", "Passes when", "Came", "When", "Who"), rows)]
        return lines

    def _stated_before(self) -> list[str]:
        """Complaints that others took the place of, a failed proof's that of the first one for instance."""
        stated = [e for e in standing(self.call.events) if isinstance(e, (ev.Opened, ev.SymptomsStated))]
        every = dict.fromkeys(symptom for event in stated for symptom in event.symptoms)
        return [symptom for symptom in every if symptom not in self.state.symptoms]

    def _complaint(self) -> list[str]:
        if self.call.walk is not None and not self.state.symptoms and not self._stated_before():
            return []
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
            if state.outcome == "ended without a visit":
                said += " Nobody looked at the door, and it has not been proved safe."
            signs = [name for name, answer in state.dangers.items() if answer == "yes"]
            if signs and state.outcome in ("ended without a visit", "left out of service"):
                named = "; ".join(title(self.trees, "dangers", name) for name in signs)
                said += f" A danger was said to be there, and nobody has said that it is over: {escape(named)}."
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
        lines += self._place_of(leading.cause)
        if not found.remedy:
            lines += self._repairs_of(leading.cause)
        lines += self._evidence(leading, "The evidence for it and against it")
        for other in found.suspects[1:]:
            lines += self._evidence(other, f"{escape(other.title)}, {percent(other.probability)}")
        return lines

    def _place_of(self, cause: str) -> list[str]:
        """Where the cause lies along what the complaint hangs on."""
        if cause not in self.trees.causes:
            return []
        place = place_of(self.trees, self.state.facts, self.state.symptoms, cause)
        return [f"Where it lies in the chain of functions: {escape(place)}", ""] if place else []

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

    def _then_and_now(self) -> list[str]:
        rows = []
        for name, then in self.state.then.items():
            check, answer = self.trees.checks.get(name), self.state.answers.get(name)
            change = change_of(self.trees, self.state.then, answer)
            if check is not None and change is not None:
                said = (check.text, then_in_words(check, then, "both"), change_in_words(check, change, "both"))
                rows.append(tuple(map(escape, said)))
        if not rows:
            return []
        return ["## Then and now", "", *table(("Check", "When the door was right", "Change"), rows)]

    def _workings(self) -> list[str]:
        rows = []
        for check_id, worked in self.call.inference.workings.items():
            check = self.trees.checks[check_id]
            value = worked.value
            said = value if isinstance(value, str) else computed_in_words(check, value, worked.error)
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
        cautions = self._cautions_met()
        if not cautions:
            return []
        lines = [f"- **{caution.word}:** {escape(caution.text)}" for caution in cautions]
        return ["## Cautions that applied", "", *lines, ""]

    def _cautions_met(self) -> tuple[Caution, ...]:
        """Of every step done, where it was done from, and every state the door was brought into."""
        trees, names = self.trees, dict[str, None]()
        kinds: tuple[tuple[type[ev.Event], str, dict[str, Task]], ...] = (
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
                    names |= dict.fromkeys(c.id for c in cautions_of(trees, entries[getattr(event, field)]))
        return cautions_named(trees, sorted(names))

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

__all__ = ["NOTICE", "escape", "html_of", "html_page", "html_report", "markdown_report", "table"]
