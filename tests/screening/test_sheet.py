"""The dispatch sheet: how soon, who, with what, and one page of it."""

from __future__ import annotations

import html
import io
import re
import textwrap
from dataclasses import replace

import pytest
from pypdf import PdfReader

from diagnose import Call
from diagnose.calls.document import html_of_document
from diagnose.calls.markdown import markdown_of
from diagnose.calls.pdf import pdf_of
from diagnose.knowledge.model import COULD_NOT_TELL, Trees, Van
from diagnose.screening.interview import next_question, take
from diagnose.screening.needs import first_van
from diagnose.screening.paper import (
    NOTICE,
    minutes_in_words,
    not_asked,
    sheet_data,
    sheet_document,
    sheet_sections,
)
from diagnose.screening.sheet import Sheet, crew_people, make_sheet
from diagnose.screening.spoken import Spoken
from tests.screening.conftest import Begin

# Lines that a page of US Letter, the shorter of the two, takes at the size the sheet is printed in, headings and all;
# the characters of a label and of a text that one of them takes. Measured in pages printed by a browser.
_PAGE_LINES, _LABEL, _TEXT = 79, 18, 100
_HEADINGS = 1.6


def html_sheet(call: Call, sheet: Sheet, call_id: str = "") -> str:
    return html_of_document(sheet_document(call, sheet, call_id))


def markdown_sheet(call: Call, sheet: Sheet, call_id: str = "") -> str:
    return markdown_of(sheet_document(call, sheet, call_id))


def printed_lines(call: Call, sheet: Sheet | None = None, spoken: Spoken | None = None) -> float:
    """About how many lines a sheet takes on paper, from the heading to the notice."""
    lines = 2.0
    for _, rows in sheet_sections(call, sheet or make_sheet(call), spoken):
        wrapped = (max(len(textwrap.wrap(label, _LABEL)), len(textwrap.wrap(text, _TEXT)), 1) for label, text in rows)
        lines += _HEADINGS + sum(wrapped)
    return lines


def test_a_broken_spring_on_a_high_door(begin: Begin, van: Van) -> None:
    call = begin("will-not-move", facts={"height": "high", "devices": (), "standing": "usable"})
    call.answer("springs-look", "gap", heard="told")
    call.answer("lamp", "lit", heard="told")
    sheet = make_sheet(call, van)
    assert sheet.urgency == "today"
    # That it can hurt somebody is known; how likely it would be otherwise is not said.
    assert sheet.reasons == ("It may fall",)
    assert [each.id for each in sheet.crew] == ["door technician", "second person"]
    assert sheet.crew[0].title == "door technician"  # what he is licensed for is left out
    assert sheet.people == 2
    assert [each.id for each in sheet.reach] == ["lift"]
    assert sheet.likely[0].cause == "spring-broken" and sheet.likely[0].remedy == "Replace the spring"
    assert "spring" in [load.part for load in sheet.load.loads]
    assert [each.id for each in sheet.ready] == ["bay", "lift"]
    assert crew_people(call.trees, sheet) == ("anyone", "technician", "door technician")


def test_a_blown_fuse_takes_an_electrician_and_a_few_parts(begin: Begin, van: Van) -> None:
    call = begin("will-not-move", facts={"height": "low", "devices": (), "standing": "usable"})
    call.answer("springs-look", "whole", heard="told")
    call.answer("lamp", "dark", heard="told")
    sheet = make_sheet(call, van)
    assert sheet.urgency == "next free visit"
    assert sheet.people == 2
    # A dead board is a third of what is likely: then an electrician goes, and its parts besides the fuse's.
    assert [each.id for each in sheet.crew] == ["technician", "electrician"]
    assert {load.part: load.count for load in sheet.load.loads} == {"fuse": 2, "board": 1}
    assert "multimeter" in [tool.id for tool in sheet.tools]
    assert sheet.load.covered > 0.9


def test_the_site_s_own_person_is_asked_to_be_there_not_sent(begin: Begin, van: Van) -> None:
    call = begin("will-not-move", facts={"height": "low", "devices": ("network",), "standing": "usable"})
    call.answer("wall-works", "yes", heard="told")
    call.answer("lamp", "lit", heard="told")
    call.answer("springs-look", "whole", heard="told")
    sheet = make_sheet(call, van)
    assert [each.id for each in sheet.at_site] == ["site network contact"]
    assert "site network contact" not in [each.id for each in sheet.crew]
    assert "network" in [each.id for each in sheet.ready]


def test_urgency_takes_the_most_urgent_and_says_all_its_reasons(begin: Begin, van: Van) -> None:
    call = begin("will-not-move", facts={"standing": "stuck open"})
    assert make_sheet(call, van).urgency == "today"
    assert "The building cannot be shut" in make_sheet(call, van).reasons
    call.danger("caught", "yes")
    sheet = make_sheet(call, van)
    assert (sheet.urgency, sheet.reasons) == ("emergency", ("Someone is caught",))
    assert "door technician" in [each.id for each in sheet.crew]


def test_what_a_caller_said_of_the_door_rules_nothing_out_for_good(begin: Begin, van: Van) -> None:
    call = begin("will-not-move", facts={"devices": ("eye",)})
    assert "network-down" not in call.situation.causes
    sheet = make_sheet(call, van)
    named = {each.cause: each.probability for each in sheet.likely}
    assert 0 < named["network-down"] < 0.05


def test_minutes_are_a_spread_and_the_same_call_gives_the_same(begin: Begin, van: Van) -> None:
    call = begin("will-not-move", facts={"height": "low", "devices": ()})
    first, second = make_sheet(call, van), make_sheet(call, van)
    assert first.minutes == second.minutes
    assert 0 < first.minutes.least < first.minutes.median < first.minutes.most
    call.answer("springs-look", "gap", heard="told")
    call.answer("lamp", "lit", heard="told")
    words = minutes_in_words(replace(first, minutes=replace(first.minutes, median=159.4, most=240.0)))
    assert words == "about 2 h 40 min; 8 in 10 such visits are done in about 4 h"
    # A spring takes 90 minutes and its proof, whatever was looked at before.
    assert make_sheet(call, van).minutes.median > 100 > first.minutes.least


def test_there_is_no_sheet_without_a_complaint(begin: Begin, van: Van) -> None:
    with pytest.raises(ValueError, match="what the door does wrong"):
        make_sheet(begin(), van)


def test_whatever_was_typed_stays_text(begin: Begin, van: Van) -> None:
    call = begin("will-not-move", site="<script>alert(1)</script>", door="[x](http://e)|y")
    call.note("# not a heading **nor bold** <b>")
    sheet = make_sheet(call, van)
    page = html_sheet(call, sheet, "x")
    assert "<script" not in page and "<a " not in page and "<b>" not in page
    assert "&lt;script&gt;" in page
    assert "\n# not a heading" not in markdown_sheet(call, sheet, "x")


def test_data_is_plain_and_says_what_was_not_asked(begin: Begin, van: Van) -> None:
    call = begin("will-not-move", facts={"fire": "no"})
    call.danger("caught", "no")
    data = sheet_data(call, make_sheet(call, van))
    assert data["danger"] == [] and data["danger_not_asked"] == ["falling"]
    assert [danger.id for danger in not_asked(call)] == ["falling"]
    assert set(data["minutes"]) == {"median", "eight_in_ten_within", "one_in_ten_within"}
    assert all(0 <= part["needed"] <= 1 for part in data["parts"])
    headings = [heading for heading, _ in sheet_sections(call, make_sheet(call, van))]
    assert headings == ["HOW SOON", "TELL THE CALLER", "THE CALL", "WHO GOES", "LOAD", "WHAT IT MAY BE"]


def test_a_danger_that_is_only_likely_is_said_in_words_with_what_points_to_it(begin: Begin, van: Van) -> None:
    call = begin("will-not-move", facts={"fire": "no", "standing": "usable"})
    call.answer("lamp", "lit", heard="told")
    (reason,) = make_sheet(call, van).reasons
    assert reason.startswith("The fault may hurt somebody: said was “Does not move at all”, which may come from “")


def test_the_sheet_is_the_same_on_the_screen_in_lines_and_on_paper(begin: Begin, van: Van) -> None:
    call = begin("will-not-move", site="Mill", door="Door 3")
    call.state_place("Mill", "Door 3", "Ana", "555 0142")
    call.note("it does not do a thing")
    call.danger("caught", "yes")
    call.danger("falling", "yes", told=True)
    call.answer("lamp", "lit", heard="told")
    sheet = make_sheet(call, van)
    sections = dict(sheet_sections(call, sheet))
    rows = dict(sections["THE CALL"])
    assert rows["Where"] == "Mill, Door 3" and rows["Caller"] == "Ana; call back 555 0142"
    assert rows["Complaint"] == "Does not move at all" and rows["In their words"] == "“it does not do a thing”"
    assert sections["HOW SOON"][0] == ("EMERGENCY", "Someone is caught (the caller says so)")
    assert sections["HOW SOON"][1] == ("Danger too", "It may fall (the caller says so)")
    # What they have not heard yet comes first.
    assert sections["TELL THE CALLER"][:2] == [
        ("NOT TOLD YET", "DANGER: Call the emergency services now."),
        ("✓ told", "DANGER: Keep everyone away."),
    ]
    assert sections["WHO GOES"][0] == ("Send", "2 people: door technician, a second person")
    assert dict(sections["WHO GOES"])["Why"].startswith("door technician: Someone is caught; It may fall · ")
    page = html.unescape(re.sub(r"<[^>]+>", "", html_sheet(call, sheet, "k7qd")))
    for heading, lines in sheet_sections(call, sheet):
        for text in (heading, *(text for row in lines for text in row)):
            assert text in page, text
    assert not any("%" in text for rows in sections.values() for row in rows for text in row)


def test_the_site_is_asked_in_the_caller_s_language(begin: Begin, shipped: Trees) -> None:
    call = begin("door-crooked", trees=shipped)
    told = dict(dict(sheet_sections(call, make_sheet(call), Spoken(shipped, "es")))["TELL THE CALLER"])
    assert "Por favor" in told["Ask the site"]


def test_in_print_every_size_follows_the_size_of_the_page(begin: Begin, van: Van) -> None:
    """Sizes after the root's would keep tables as large as on a screen, and make two pages of one."""
    call = begin("will-not-move")
    style = html_sheet(call, make_sheet(call, van)).split("@media print")[-1].split("</style>")[0]
    assert not re.search(r"font-size: [\d.]+rem", style)


def test_a_sheet_with_all_that_can_be_on_it_fits_one_page(shipped: Trees, begin: Begin) -> None:
    for symptom in ("noisy-operator", "door-crooked", "drifts-down", "reverses-while-closing"):
        call = begin(symptom, trees=shipped, site="Harbour Bakery, north yard", door="Dock 3")
        call.state_place("Harbour Bakery, north yard", "Dock 3", "Ana, night shift", "555 0142")
        for danger in shipped.dangers:
            call.danger(danger, "yes")
        for number in range(4):
            call.note(
                "it came down with a bang and the driver says that nothing has happened since then " * 6 + str(number)
            )
        while (question := next_question(call, first_van(shipped))) is not None:
            last = question.answers[0 if question.id == "construction" else -1] if question.answers else COULD_NOT_TELL
            take(call, question, question.answers[:3] if question.many else last)
        lines = printed_lines(call, spoken=Spoken(shipped, "es"))
        assert lines <= _PAGE_LINES, (symptom, lines)


def test_every_complaint_of_the_shipped_trees_fits_one_page(shipped: Trees, begin: Begin) -> None:
    for symptom in shipped.symptoms:
        call = begin(symptom, trees=shipped, site="Harbour Bakery", door="Dock 3")
        for danger in shipped.dangers:
            call.danger(danger, "yes" if danger in ("burning", "door-will-not-stay") else "no")
        sheet = make_sheet(call)
        lines = printed_lines(call, sheet)
        assert lines <= _PAGE_LINES, (symptom, lines)
        assert sheet.load.weight <= sheet.van.weight and sheet.load.volume <= sheet.van.volume


def test_a_kind_of_door_that_is_not_served_is_said_on_the_sheet_and_asked_no_further(
    begin: Begin, shipped: Trees
) -> None:
    facts = {"construction": "another kind", "standing": "usable"}
    call, van = begin("dead-no-response", facts=facts, trees=shipped), first_van(shipped)
    assert next_question(call, van) is None
    assert make_sheet(call, van).reasons[0] == shipped.facts["construction"].not_served["another kind"]
    served = begin("dead-no-response", facts={**facts, "construction": "sectional"}, trees=shipped)
    assert next_question(served, van) is not None


def test_sketches_stand_behind_the_sheet_in_every_form(shipped: Trees, begin: Begin) -> None:
    call = begin("door-crooked", trees=shipped, facts={"construction": "sectional"})
    sheet = make_sheet(call)
    noted, page = markdown_sheet(call, sheet), html_sheet(call, sheet)
    drawn = noted.partition("## WHERE IT MAY BE")[2]
    assert noted.index("WHAT IT MAY BE") < noted.index("WHERE IT MAY BE") < noted.index("```text")
    assert any(f"▶{letter}◀" in drawn for letter in "ABCDEFGHJKLMNPQRSTUVWXYZ") and drawn.count("```") % 2 == 0
    printed = PdfReader(io.BytesIO(pdf_of(sheet_document(call, sheet, paper="a4"))))
    front, back = (each.extract_text() for each in printed.pages)
    assert "WHO GOES" in front and NOTICE[:40] in front and "WHERE IT MAY BE" in back and "WHO GOES" not in back
    assert page.count("WHERE IT MAY BE") == 1 and "<svg" in page and "```" not in page
