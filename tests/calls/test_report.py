"""The record: complete, honest about what was taken back, and inert whatever was typed."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.report import NOTICE, escape, html_report, markdown_report
from diagnose.calls.verdict import leading_cause, suspects_now, verdict
from diagnose.calls.words import event_in_words, remarks_on
from diagnose.knowledge.model import Trees

HOSTILE = (
    *("[/x]", "<script>alert(1)</script>", "| pipes |", "# heading"),
    *("1. item", "- item", "&lt;b&gt;", "`code`\n\n> x"),
)


def a_call(trees: Trees, **fields: Any) -> Call:
    moments = (datetime(2026, 11, 25, 8, tzinfo=UTC) + timedelta(minutes=n) for n in range(500))
    fields.setdefault("facts", {"devices": ("photo-eye", "timer"), "drive": "trolley", "fire-rated": "no"})
    fields.setdefault("site", "Vale Works")
    fields.setdefault("door", "Dock 3")
    return Call(trees, symptoms=["eye-lamp-wrong"], by="Ana Ruiz", clock=lambda: next(moments), **fields)


def mended(trees: Trees) -> Call:
    """A call in which everything happens: told, corrected, taken back, undone, a remedy in vain, one that works."""
    call = a_call(trees)
    call.answer("eye-lamp-receiver", "2", heard="told")
    call.answer("eye-lamp-receiver", "dark", mode="correction")
    call.answer("door-secured", "yes")
    call.answer("eye-volts-far-end", "1,2 V")
    call.answer("eye-volts-far-end", "1.4 V", mode="again")
    call.answer("impact", "no sign")
    call.withdraw("impact")
    call.answer("weather", "hard wind")
    call.undo()
    call.answer("how-it-began", "?")
    call.tried("clean-lenses", worked=False)
    call.enter("off, locked and tagged")
    call.answer("splice-looks", "green or loose")
    call.tried("remake-splice", worked=True)
    for proof in call.open_proofs():
        call.enter(proof.energy) if proof.energy not in (call.energy, "any") else None
        call.proved(proof.id, passed=True)
    call.note("Told the shift leader to keep the beam clear.")
    call.close("returned to service")
    return call


def report(call: Call, call_id: str = "2026-11-25-k7qd") -> str:
    return markdown_report(call, call_id, offset=timedelta())


def section(text: str, heading: str) -> str:
    """What stands below a heading of the second rank."""
    return text.split(f"\n## {heading}\n", 1)[1].split("\n## ", 1)[0]


def test_the_whole_call_is_in_the_record(small_trees: Trees) -> None:
    text = report(mended(small_trees))
    assert text.startswith("# Record of call 2026-11-25-k7qd\n")
    assert NOTICE in text
    door = section(text, "The door")
    for row in ("Site | Vale Works", "Drive | trolley", "Opened | 2026-11-25 08:00", "Recorded by | Ana Ruiz"):
        assert f"| {row} |" in door
    at_the_door = next(line for line in door.splitlines() if line.startswith("| At the door |"))
    assert "technician" in at_the_door.casefold() and "anyone" not in at_the_door.casefold()
    assert door.count("| Name of the door |") == 1
    assert "A photo eye's lamp blinks or is dark" in section(text, "The complaint")
    assert "**Returned to service.**" in section(text, "Outcome")
    answers = section(text, "Answers")
    assert "| “1,2 V” · “1.4 V” | 1.2 V; 1.4 V |" in answers
    assert "| “dark” | dark | 2026-11-25 08:02 | Ana Ruiz, seen |" in answers
    assert "| “?” | could not tell |" in answers
    assert "hard wind" not in answers and "no sign" not in answers
    work = section(text, "Work done")
    assert "Clean both lenses with a soft cloth | the complaint stayed | none" in work
    assert "the complaint went away | 2 × gel-filled connector" in work
    proofs = section(text, "Proofs")
    assert "did not pass" not in proofs and "Every proof that this door needs has passed." in proofs
    assert "Told the shift leader" in section(text, "Notes")
    assert f"Answered against the trees {small_trees.digest[:16]}." in text
    assert "Times are UTC." in text


def test_the_cause_is_judged_as_it_stood_before_it_was_removed(small_trees: Trees) -> None:
    call = mended(small_trees)
    found = verdict(call)
    assert found.leading is not None
    assert (found.leading.cause, found.remedy) == ("eye-wiring-open", "remake-splice")
    assert found.leading.probability > 0.8
    assert suspects_now(call)[0].probability < 0.5, "it is in the door no more"
    cause = section(report(call), "The cause")
    assert "before it was removed by: Remake the splice in a dry box, both conductors." in cause
    assert "green or loose | makes it" in cause and "times likelier" in cause
    lens = next(each for each in verdict(call, most=9).suspects if each.cause == "eye-lens-dirty")
    in_vain = [reason for reason in lens.telling if reason.found == "done, the complaint stayed"]
    assert [reason.check for reason in in_vain] == ["Clean both lenses with a soft cloth"]
    assert in_vain[0].factor < 0.1 and "less likely" in in_vain[0].words
    assert cause.count("### ") == 3
    assert leading_cause(small_trees)(list(call.events)) == "eye-wiring-open"


def test_the_reasons_are_the_weights_the_ranking_is_made_of(small_trees: Trees) -> None:
    call = a_call(small_trees)
    call.answer("eye-lamp-receiver", "dark")
    call.answer("lens-clean", "clean")
    likely = {each.cause: each for each in call.likely()}
    for suspect in suspects_now(call):
        evidence = {each.check: each.factor for each in likely[suspect.cause].evidence}
        texts = {small_trees.checks[check].text: factor for check, factor in evidence.items()}
        assert {reason.check: reason.factor for reason in suspect.reasons} == pytest.approx(texts)
        assert suspect.probability == pytest.approx(likely[suspect.cause].probability)


def test_what_was_taken_back_stays_visible(small_trees: Trees) -> None:
    call = mended(small_trees)
    history = section(report(call), "History")
    rows = {line.split(" | ")[0].strip("| "): line for line in history.splitlines() if line.startswith("| ")}
    assert len([key for key in rows if key.isdecimal()]) == len(call.events)
    assert rows["2"].endswith("| replaced by 3 |") and "as told" in rows["2"]
    assert rows["7"].endswith("| taken back |") and "no sign" in rows["7"]
    assert rows["9"].endswith("| undone |") and "hard wind" in rows["9"]
    assert "Entry 9 undone" in rows["10"]
    assert "(read again)" in rows["6"] and rows["5"].endswith("|  |")


def test_an_answer_seen_anew_after_a_repair_replaces_nothing(small_trees: Trees) -> None:
    call = a_call(small_trees)
    call.answer("lens-clean", "dirty or wet")
    call.tried("clean-lenses", worked=False)
    call.answer("lens-clean", "clean")
    assert remarks_on(call.events) == {}
    call.answer("lens-clean", "dirty or wet", mode="correction")
    assert remarks_on(call.events) == {4: "replaced by 5"}
    assert section(report(call), "Answers").count("What do the lenses look like?") == 2


def test_both_unit_systems_stand_where_they_differ(small_trees: Trees) -> None:
    from diagnose.calls.words import in_words

    height = small_trees.checks["eye-volts-far-end"]
    assert in_words(height, (22.6,), "V") == "22.6 V"
    assert in_words(None, (0.0762,), "m") == "0.0762 m (3 in)"
    assert in_words(None, (float("inf"),), "Ω") == "OL (open)"
    assert in_words(None, "dark", "") == "dark"
    assert in_words(None, (1.0, 2.0), "furlong") == "1 furlong; 2 furlong"


def test_an_open_call_claims_nothing(small_trees: Trees) -> None:
    text = report(a_call(small_trees))
    assert "**The call is open.**" in section(text, "Outcome")
    assert "The door has not been proved safe" in text
    assert "No check was answered." in text and "No remedy was tried." in text
    assert "Not proved:" in section(text, "Proofs")
    assert "## The likeliest cause so far" in text and "## The cause\n" not in text
    assert "Every proof that this door needs has passed" not in text


def test_a_door_left_out_of_service_says_why(small_trees: Trees) -> None:
    call = a_call(small_trees)
    call.proved("both-limits", passed=False)
    call.close("left out of service", "No monitored eye on the van.")
    text = report(call)
    assert "**Left out of service.** No monitored eye on the van." in section(text, "Outcome")
    assert "| **did not pass** |" in section(text, "Proofs")
    assert "Every proof" not in text


def test_a_call_without_anything_has_a_record_too(small_trees: Trees) -> None:
    assert "None was stated." in markdown_report(Call(small_trees))
    assert "<h1>Record of a call</h1>" in html_report(Call(small_trees))


def test_cautions_of_everything_done_are_named_the_gravest_first(small_trees: Trees) -> None:
    lines = [line for line in section(report(mended(small_trees)), "Cautions that applied").splitlines() if line]
    words = [line.split("**")[1].rstrip(":") for line in lines]
    assert words == sorted(words, key=["DANGER", "WARNING", "CAUTION", "NOTICE"].index)
    text = "\n".join(lines)
    for caution in ("electric-shock", "lock-and-tag", "door-may-start", "low-voltage-near-mains"):
        assert escape(small_trees.cautions[caution].text) in text
    assert escape(small_trees.cautions["spring-tension"].text) not in text


def test_computed_values_show_their_working(small_trees: Trees) -> None:
    """The small trees compute nothing, so one such check is put among them."""
    import msgspec

    from diagnose.knowledge.distributions import Normal
    from diagnose.knowledge.model import Check

    left = Check(
        id="volts-left",
        compute="Volts the wire leaves",
        unit="V",
        plausible=(0.0, 60.0),
        formula="voltage-drop.far_volts",
        inputs={"volts": "eye-volts-far-end", "amps": "0.1 A", "run": "300 ft", "gauge": "22", "phase": "dc"},
        minutes=0,
        energy="any",
        healthy=Normal(22.0, 1.0),
    )
    trees = msgspec.structs.replace(small_trees, checks={**small_trees.checks, "volts-left": left}, digest="other")
    call = a_call(trees)
    call.answer("eye-volts-far-end", "24 V")
    text = section(report(call), "Worked out from the readings")
    assert "| Volts the wire leaves | 22.8 V ± 0." in text
    assert "22 AWG, 300 ft" in text


def test_a_record_judged_by_other_trees_says_so(small_trees: Trees) -> None:
    import msgspec

    call = mended(small_trees)
    fewer = {name: check for name, check in small_trees.checks.items() if name not in ("splice-looks", "weather")}
    fewer_symptoms: dict[str, Any] = {}
    trees = msgspec.structs.replace(
        small_trees, checks=fewer, symptoms=fewer_symptoms, digest="0123456789abcdef0123", facts={}, parts={}
    )
    text = report(Call(trees, history=call.events))
    assert "Judged here by other trees, 0123456789abcdef." in text
    assert "| splice-looks | “green or loose” | green or loose |" in text
    assert "- eye-lamp-wrong" in text and "| drive | trolley |" in text


# --- nothing typed is markup -------------------------------------------------------------------------------


class Page(HTMLParser):
    """The tags of a page, and the text between them."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.texts: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    @property
    def text(self) -> str:
        return "".join(self.texts)


def hostile_call(trees: Trees, text: str) -> Call:
    call = a_call(trees, site=text, door=text)
    call.note(text)
    call.answer("lens-clean", "clean")
    call.close("left out of service", text or "none")
    return call


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_stands_in_the_page_as_it_was_typed(small_trees: Trees, text: str) -> None:
    plain, hostile = (Page(html_report(hostile_call(small_trees, each))) for each in ("INERT", text))
    assert hostile.tags == plain.tags
    assert hostile.attributes == plain.attributes
    shown = " ".join(text.split())
    assert hostile.text.count(shown) == plain.text.count("INERT") == 6, "site, door, note twice, reason twice"


@given(st.text(max_size=60))
def test_escaped_text_reads_back_as_itself_and_brings_no_markup(text: str) -> None:
    """Read by a reader that knows everything: tables, links, HTML and all."""
    line = " ".join("".join(c if c.isprintable() or c.isspace() else "�" for c in text).split())
    for before, after, around in (("", "", "p"), ("- ", "", "li"), ("| a | ", " |\n| --- | --- |", "th")):
        page = Page(MarkdownIt("commonmark").enable(["table"]).render(f"{before}{escape(text)}{after}"))
        allowed = {"p", "ul", "li", "table", "thead", "tr", "th"}
        assert set(page.tags) <= allowed, (around, page.tags)
        assert page.text.replace("\n", "").removeprefix("a" if around == "th" else "") == line


def test_the_page_needs_nothing_beside_itself(small_trees: Trees) -> None:
    page = html_report(mended(small_trees), "2026-11-25-k7qd")
    parsed = Page(page)
    assert page.startswith("<!DOCTYPE html>") and page.rstrip().endswith("</html>")
    assert not {"script", "img", "link", "a", "iframe"} & set(parsed.tags)
    assert not [name for name, _ in parsed.attributes if name in ("src", "href", "style") or name.startswith("on")]
    assert "default-src 'none'" in page and "@media print" in page
    assert {"h1", "h2", "h3", "table", "strong", "hr", "ul"} <= set(parsed.tags)
    assert page.count("<table>") == page.count("</table>") >= 5
    assert "| --- |" not in page


def test_times_are_shown_in_the_zone_asked_for(small_trees: Trees) -> None:
    text = markdown_report(a_call(small_trees), offset=timedelta(hours=-5))
    assert "| Opened | 2026-11-25 03:00 |" in text
    assert "Times are UTC-05:00." in text


def test_every_kind_of_event_has_words(small_trees: Trees) -> None:
    from typing import get_args

    when: dict[str, Any] = {"sequence": 2, "at": "2026-11-25T08:00:00+00:00"}
    needed: dict[str, Any] = {
        "fact": "drive",
        "site": "Heron Lane Bottling",
        "value": "trolley",
        "symptoms": (),
        "people": ("anyone",),
        "check": "impact",
        "raw": "1",
        "energy": "any",
        "remedy": "clean-lenses",
        "worked": True,
        "proof": "both-limits",
        "passed": False,
        "danger": "falling",
        "answer": "yes",
        "text": "seen",
        "undoes": 1,
        "outcomes": {"eye-lamp-wrong": "better"},
        "outcome": "left out of service",
        "reason": "parts",
        "kind": "check",
        "step": "impact",
        "job": "labels",
        "came": "done",
    }
    said = set()
    for kind in get_args(ev.AnyEvent):
        fields = {name: needed[name] for name in kind.__struct_fields__ if name in needed}
        said.add(event_in_words(small_trees, kind(**when, **fields)))
    assert len(said) == len(get_args(ev.AnyEvent))
    assert all(said)


def test_an_open_call_says_what_would_remove_the_cause_and_who_would_have_to_come(small_trees: Trees) -> None:
    import msgspec

    people = {**small_trees.people, "electrician": msgspec.structs.replace(small_trees.people["electrician"])}
    remedy = msgspec.structs.replace(small_trees.remedies["remake-splice"], who="electrician")
    trees = msgspec.structs.replace(
        small_trees, people=people, remedies={**small_trees.remedies, "remake-splice": remedy}, digest="other"
    )
    call = a_call(trees)
    call.answer("eye-lamp-receiver", "dark")
    call.answer("eye-volts-far-end", "1.2 V")
    said = section(report(call), "The likeliest cause so far")
    title = small_trees.people["electrician"].title
    article = "an" if title[0] in "aeiou" else "a"
    assert f"- Remake the splice in a dry box, both conductors (needs {article} {title}, who is not here)" in said
    call.state_people(["anyone", "technician", "electrician"])
    assert "who is not here" not in report(call)
    call.tried("remake-splice", worked=True)
    assert "It is removed by" not in report(call), "it is removed"
