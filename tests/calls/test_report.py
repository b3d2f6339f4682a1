"""The record: complete, honest about what was taken back, and inert whatever was typed."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from diagnose.calls import events as ev
from diagnose.calls.appendix import plot_of_reading
from diagnose.calls.call import Call
from diagnose.calls.document import html_of_document, text_of
from diagnose.calls.markdown import escape
from diagnose.calls.report import NOTICE, record, result_of
from diagnose.calls.verdict import leading_cause, suspects_now, verdict
from diagnose.calls.verdict import mended as confirmed
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
    return text_of(record(call, call_id, offset=timedelta()), 400)


def section(text: str, heading: str) -> str:
    """What stands below a heading of the second rank."""
    below = text.split(f"\n{heading.upper()}\n", 1)[1].split("\n\n", 1)[0]
    return "\n".join(re.sub(" {2,}", " | ", line) for line in below.splitlines())


def first_page(text: str) -> str:
    return text.split("=" * 400)[0]


def test_the_whole_call_is_in_the_record(small_trees: Trees) -> None:
    text = report(mended(small_trees))
    assert "Service record, 2026-11-25-k7qd\n=====" in text
    assert NOTICE in text
    for row in (r"Site +Vale Works +Opened +2026-11-25 08:00", r"Door +Dock 3", r"Recorded by +Ana Ruiz"):
        assert re.search(row, first_page(text))
    at_the_door = next(line for line in section(text, "The door").splitlines() if line.startswith("At the door"))
    assert "technician" in at_the_door.casefold() and "anyone" not in at_the_door.casefold()
    assert "A photo eye's lamp blinks or is dark" in section(text, "Complaint")
    assert "*** RETURNED TO SERVICE ***" in first_page(text)
    readings, answers = section(text, "Readings"), section(text, "Looked at and asked")
    assert "“1,2 V” · “1.4 V”: 1.2 V; 1.4 V" in readings and "#" in readings
    assert "dark | 2026-11-25 08:02, Ana Ruiz" in answers and "as told" not in answers
    assert "could not tell (“?”)" in answers
    assert "hard wind" not in answers and "no sign" not in answers
    work = section(text, "What was done")
    assert "Clean both lenses with a soft cloth | the complaint stayed | 2026-11-25" in work
    assert "Parts that these repairs take: 2 × gel-filled connector." in work
    proofs = section(text, "Proofs that the door is safe")
    assert "DID NOT PASS" not in proofs and "Every proof that this door needs has passed." in proofs
    assert all(proof.passes_when in proofs for proof in mended(small_trees).needed_proofs())
    assert "Told the shift leader" in section(text, "Notes")
    assert f"Answered against the trees {small_trees.digest[:16]}." in text.split("=" * 400)[1]
    assert small_trees.digest[:16] not in first_page(text) and "Times are UTC." in text


def test_a_cause_is_named_where_the_repair_confirmed_it_and_as_it_stood_before(small_trees: Trees) -> None:
    call = mended(small_trees)
    found = verdict(call)
    assert found.leading is not None
    assert (found.leading.cause, found.remedy) == ("eye-wiring-open", "remake-splice")
    assert found.leading.probability > 0.8
    assert suspects_now(call)[0].probability < 0.5, "it is in the door no more"
    only = confirmed(call)
    assert [(each.done.remedy, each.cause and each.cause.cause) for each in only] == [
        ("remake-splice", "eye-wiring-open")
    ]
    text = report(call)
    assert section(text, "What was wrong").startswith(f"- {found.leading.title}. {found.leading.explain[:20]}")
    why = section(text, f"Why it was this: {found.leading.title}")
    assert "Confirmed by: Remake the splice in a dry box, both conductors." in why
    assert re.search(r"green or loose \| speaks (strongly |a little )?for it", why)
    assert "%" not in why, "no odds in a customer's hands"
    lens = next(each for each in verdict(call, most=9).suspects if each.cause == "eye-lens-dirty")
    in_vain = [reason for reason in lens.telling if reason.found == "done, the complaint stayed"]
    assert [reason.check for reason in in_vain] == ["Clean both lenses with a soft cloth"]
    assert in_vain[0].factor < 0.1 and in_vain[0].speaks == "speaks against it"
    assert leading_cause(small_trees)(list(call.events)) == "eye-wiring-open"


def test_nothing_is_said_of_a_cause_that_was_not_confirmed(small_trees: Trees) -> None:
    call = a_call(small_trees)
    call.answer("eye-lamp-receiver", "dark")
    call.answer("eye-volts-far-end", "1.2 V")
    call.answer("splice-looks", "green or loose")
    assert call.likely()[0].probability > 0.8
    titles = [cause.title for cause in small_trees.causes.values()]
    for step in ("open", "in vain", "too early", "left"):
        if step == "in vain":
            call.tried("remake-splice", worked=False)
        elif step == "too early":
            call.done("remake-splice")
            call.judge({"eye-lamp-wrong": "too early"}, "7:30")
        elif step == "left":
            call.close("left out of service", "Parts are to come.")
        text = report(call)
        assert section(text, "What was wrong") == "- Not confirmed.", step
        assert not [title for title in titles if title in text], step


def test_a_repair_that_would_end_several_faults_confirms_none_of_them(small_trees: Trees) -> None:
    import msgspec

    call = a_call(small_trees)
    causes = dict(small_trees.causes)
    for name in ("eye-lens-dirty", "eye-out-of-line"):
        causes[name] = msgspec.structs.replace(causes[name], remedies={"realign-eyes": 0.9})
    call = a_call(msgspec.structs.replace(small_trees, causes=causes, digest="several"))
    call.tried("realign-eyes", worked=True)
    found = confirmed(call)
    assert [(each.done.remedy, each.cause) for each in found] == [("realign-eyes", None)]
    title = small_trees.remedies["realign-eyes"].title
    assert section(report(call), "What was wrong").startswith(f"- Not confirmed: “{title}” ended it")


def test_a_proof_that_failed_after_a_repair_leaves_the_cause_unconfirmed(small_trees: Trees) -> None:
    call = a_call(small_trees)
    call.answer("splice-looks", "green or loose")
    call.tried("remake-splice", worked=True)
    assert confirmed(call)[0].cause is not None
    call.proved("both-limits", passed=False)
    assert confirmed(call) == ()


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


def test_what_was_taken_back_stands_in_the_history_alone(small_trees: Trees) -> None:
    call = mended(small_trees)
    text = report(call)
    history = section(text, "History")
    rows = {line.split(" | ")[0]: line for line in history.splitlines()}
    assert len([key for key in rows if key.isdecimal()]) == len(call.events)
    assert rows["2"].endswith("| replaced by 3") and "as told" in rows["2"]
    assert rows["7"].endswith("| withdrawn") and "no sign" in rows["7"]
    assert rows["9"].endswith("| undone") and "hard wind" in rows["9"]
    assert "Entry 9 undone" in rows["10"]
    assert "(read again)" in rows["6"] and rows["5"].endswith("| Ana Ruiz")
    before = text.split("\nHISTORY\n")[0]
    assert "hard wind" not in before and "no sign" not in before and "undone" not in before


def test_an_answer_seen_anew_after_a_repair_replaces_nothing(small_trees: Trees) -> None:
    call = a_call(small_trees)
    call.answer("lens-clean", "dirty or wet")
    call.tried("clean-lenses", worked=False)
    call.answer("lens-clean", "clean")
    assert remarks_on(call.events) == {}
    call.answer("lens-clean", "dirty or wet", mode="correction")
    assert remarks_on(call.events) == {4: "replaced by 5"}
    assert section(report(call), "Looked at and asked").count("What do the lenses look like?") == 2


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
    assert "*** NOT FINISHED ***" in text
    assert "it has not been proved safe" in text
    assert section(text, "What was done") == "Nothing was done at the door."
    told = a_call(small_trees)
    told.answer("lens-clean", "clean", heard="told")
    assert "The caller was asked on the phone; one answer is" in section(report(told), "What was done")
    call = a_call(small_trees)
    call.answer("lens-clean", "clean")
    text = report(call)
    assert "The door has not been proved safe" in text and "No repair was done." in text
    assert "Not proved:" in section(text, "Proofs that the door is safe")
    assert "Every proof that this door needs has passed" not in text


def test_a_door_left_out_of_service_says_why(small_trees: Trees) -> None:
    call = a_call(small_trees)
    call.proved("both-limits", passed=False)
    call.close("left out of service", "No monitored eye on the van.")
    text = report(call)
    assert "*** LEFT OUT OF SERVICE ***\nNo monitored eye on the van. The door must not be used." in text
    assert "DID NOT PASS" in section(text, "Proofs that the door is safe")
    assert "it failed. Put that right and prove it again." in section(text, "What is left")
    assert "Every proof" not in text


def test_what_is_left_of_a_complaint_is_said_as_it_is(small_trees: Trees) -> None:
    call = a_call(small_trees)
    title = small_trees.symptoms["eye-lamp-wrong"].title
    assert f"{title}: not yet seen to be gone" in section(report(call), "What is left")
    call.tried("remake-splice", worked=False)
    left = section(report(call), "What is left")
    assert f"{title}: still there" in left and "say so" not in left


def test_a_call_that_waits_says_for_what_and_until_when(small_trees: Trees) -> None:
    call = a_call(small_trees)
    call.answer("splice-looks", "green or loose")
    call.done("remake-splice")
    call.judge({"eye-lamp-wrong": "too early"}, "tomorrow 7:30")
    assert result_of(call)[0] == "not finished, waiting", "proofs are open"
    assert "| tomorrow 7:30" in section(report(call), "What is left")
    for proof in call.open_proofs():
        if proof.energy not in (call.energy, "any"):
            call.enter(proof.energy)
        call.proved(proof.id, passed=True)
    call.enter(next(state.id for state in small_trees.energy.values() if state.powered == "yes" != state.cover))
    assert result_of(call)[0] == "made safe, waiting"
    call.state_people(["anyone"], {"technician": "on Friday"})
    assert re.search(r"To come: .*technician.* \| on Friday", section(report(call), "What is left"))


def test_a_call_without_anything_has_a_record_too(small_trees: Trees) -> None:
    assert "None was stated." in text_of(record(Call(small_trees)))
    assert "<h1>Service record</h1>" in html_of_document(record(Call(small_trees)))


def test_cautions_of_everything_done_are_named_the_gravest_first(small_trees: Trees) -> None:
    lines = section(report(mended(small_trees)), "Cautions that applied").splitlines()
    words = [line.removeprefix("- ").split(":")[0] for line in lines]
    assert words == sorted(words, key=["DANGER", "WARNING", "CAUTION", "NOTICE"].index)
    text = "\n".join(lines)
    for caution in ("electric-shock", "lock-and-tag", "door-may-start", "low-voltage-near-mains"):
        assert small_trees.cautions[caution].text in text
    assert small_trees.cautions["spring-tension"].text not in text


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
    assert "Volts the wire leaves | 22.8 V ± 0." in text
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
    assert "splice-looks | green or loose | 2026" in section(text, "Looked at and asked")
    assert "- eye-lamp-wrong" in text and "drive: trolley" in text


def test_a_reading_stands_against_what_is_usual_on_a_sound_door(small_trees: Trees) -> None:
    call = a_call(small_trees)
    call.answer("eye-volts-far-end", "1.2 V")
    check = small_trees.checks["eye-volts-far-end"]
    plot = plot_of_reading(check, call.state.answers[check.id])
    assert plot is not None and plot.values == (1.2,) and 1.2 < plot.low < 24 < plot.high
    assert plot.svg.count("<rect") == 1 and plot.svg.count("4 5 -4 5 -4 -5Z") == 1
    assert "#...............[" in report(call)


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
    plain, hostile = (Page(html_of_document(record(hostile_call(small_trees, each)))) for each in ("INERT", text))
    assert hostile.tags == plain.tags
    assert hostile.attributes == plain.attributes
    shown = " ".join(text.split())
    assert hostile.text.count(shown) == plain.text.count("INERT") == 8, "site and door twice, note and reason twice"


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
    page = html_of_document(record(mended(small_trees), "2026-11-25-k7qd"))
    parsed = Page(page)
    assert page.startswith("<!DOCTYPE html>") and page.rstrip().endswith("</html>")
    assert not {"script", "img", "link", "a", "iframe"} & set(parsed.tags)
    assert not [name for name, _ in parsed.attributes if name in ("src", "href", "style") or name.startswith("on")]
    assert "default-src 'none'" in page and "@media print" in page
    assert {"h1", "h2", "table", "ul", "svg"} <= set(parsed.tags)
    assert page.count("<table") == page.count("</table>") >= 5


def test_times_are_shown_in_the_zone_asked_for(small_trees: Trees) -> None:
    text = text_of(record(a_call(small_trees), offset=timedelta(hours=-5)))
    assert "2026-11-25 03:00" in text
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
