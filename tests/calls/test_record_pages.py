"""The record on paper: how many pages, what stands on which, on Letter and on A4, for every kind of call."""

from __future__ import annotations

import io
import re
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from pypdf import PdfReader

from diagnose.calls.call import Call
from diagnose.calls.document import Logo, html_of_document, soft
from diagnose.calls.pdf import PdfError, pdf_of
from diagnose.calls.report import Firm, record
from diagnose.knowledge.model import Trees
from diagnose.practice.from_life import shown_when_sound
from tests.walks.test_walks import KINDS, door, gone_through

DEVICES = ("photo-eye", "wall-station", "timer", "remote")
FACTS: dict[str, Any] = {
    "drive": "trolley",
    "construction": "sectional",
    "counterbalance": "torsion-spring",
    "fire-rated": "no",
    "supply": "single-phase",
    "nominal-volts": "115 V",
    "devices": DEVICES,
}
SIZES = {"letter": (612, 792), "a4": (595, 842)}
LOGO = Logo(
    b"<svg xmlns='http://www.w3.org/2000/svg' width='40' height='40'><rect width='40' height='40'/></svg>", "svg"
)
LONG = "Reacondicionamiento electromecánico, señalización e impermeabilización desproporcionadamente inconmensurables"


def begun(trees: Trees, symptoms: tuple[str, ...] = ("will-not-close-on-timer",), **more: Any) -> Call:
    moments = (datetime(2026, 11, 25, 8, tzinfo=UTC) + timedelta(minutes=2 * n) for n in range(2000))
    given = {"site": "Vale Works", "door": "Dock 3", "by": "Ana Ruiz", "people": list(trees.people), **more}
    call = Call(trees, FACTS, symptoms, clock=lambda: next(moments), **given)
    if symptoms:
        call.state_place(given["site"], given["door"], "Marta Quiñones", "555-0142")
    return call


def asked(call: Call, checks: int, heard: Any = "seen") -> Call:
    """So many checks of the door's complaint answered as a sound door shows them."""
    names = [name for name, check in call.trees.checks.items() if check.kind != "computed"]
    for name in names:
        if len(call.state.answers) == checks:
            break
        check = call.trees.checks[name]
        if check.series == "no" and not check.after:
            said = shown_when_sound(check)
            call.answer(name, said, heard=heard)
    return call


def proved(call: Call) -> Call:
    while call.open_proofs():
        proof = call.open_proofs()[0]
        if proof.energy not in (call.energy, "any"):
            call.enter(proof.energy)
        call.proved(proof.id, passed=True)
    call.enter("powered, covers on")
    return call


def repaired(trees: Trees) -> Call:
    call = asked(begun(trees), 10)
    call.answer("eye-lamp-receiver", "dark")
    call.answer("eye-volts-far-end", "1.2 V")
    call.tried("clean-lenses", worked=False)
    call.tried("remake-splice", worked=True)
    proved(call).close("returned to service")
    return call


def left_out(trees: Trees) -> Call:
    call = asked(begun(trees), 10)
    call.proved("both-limits", passed=False)
    call.close("left out of service", "No eye of this kind is on the van.")
    return call


def abandoned(trees: Trees) -> Call:
    return asked(begun(trees), 4)


def phoned(trees: Trees) -> Call:
    call = asked(begun(trees), 5, heard="told")
    call.close("ended without a visit", "The caller found the switch off.")
    return call


def walked(trees: Trees, walk: str) -> Call:
    moments = (datetime(2026, 11, 25, 8, tzinfo=UTC) + timedelta(minutes=2 * n) for n in range(2000))
    given: dict[str, Any] = {"walk": walk, "people": list(trees.people), "by": "Ana Ruiz", "site": "Vale Works"}
    call = Call(trees, door(*KINDS[0]), clock=lambda: next(moments), **given)
    gone_through(call)
    return call


def long(trees: Trees) -> Call:
    call = asked(begun(trees, site=f"Almacén frigorífico {LONG}", door=LONG), 25)
    for _ in range(3):
        call.note(LONG)
    call.tried("clean-lenses", worked=True)
    proved(call).close("returned to service", LONG)
    return call


KIND = {
    "repaired": (repaired, "RETURNED TO SERVICE", 4),
    "left out": (left_out, "LEFT OUT OF SERVICE", 4),
    "abandoned": (abandoned, "NOT FINISHED", 4),
    "phone only": (phoned, "NO VISIT WAS MADE", 4),
    "commissioning": (lambda trees: walked(trees, "commissioning"), "HANDED OVER", 12),
    "yearly": (lambda trees: walked(trees, "yearly-service"), "RETURNED TO SERVICE", 7),
    "25 checks, long words": (long, "RETURNED TO SERVICE", 7),
}


def words(text: str) -> str:
    return " ".join(text.replace("\u200b", "").split())


@pytest.mark.parametrize("kind", KIND)
def test_the_first_page_is_one_page_and_the_whole_is_short(shipped_trees: Trees, kind: str) -> None:
    make, result, most = KIND[kind]
    call = make(shipped_trees)
    for paper, size in SIZES.items():
        firm = Firm("Servicio Peñalosa", LOGO, "Trabajo garantizado por {firm}, {date}.", "{site}", paper)  # type: ignore[arg-type]
        pages = PdfReader(io.BytesIO(pdf_of(record(call, "2026-11-25-k7qd", firm=firm)))).pages
        texts = [words(page.extract_text()) for page in pages]
        assert [round(float(each)) for each in pages[0].mediabox[2:]] == list(size)
        assert len(pages) <= most, paper
        assert result in texts[0] and "Signed" in texts[0] and "For the customer" in texts[0]
        assert "Servicio Peñalosa" in texts[0] and "garantizado por Servicio Peñalosa, 2026-11-25" in texts[0]
        assert texts[1].startswith("Technical appendix"), "the first page is one page"
        assert not any("Technical appendix" in text for text in (texts[0], *texts[2:]))
        assert all(f"Page {n} of {len(pages)}" in text for n, text in enumerate(texts, start=1))
        assert shipped_trees.digest[:16] not in texts[0] and "%" not in re.sub(r"\d+ % (lower|of)", "", texts[0])
        assert not [image for page in pages for image in page.images], "drawings stay drawings"


def test_no_word_is_broken_and_every_letter_is_there(shipped_trees: Trees) -> None:
    call = long(shipped_trees)
    text = " ".join(words(page.extract_text()) for page in PdfReader(io.BytesIO(pdf_of(record(call)))).pages)
    for word in (*LONG.replace(",", "").split(), "Quiñones", "frigorífico"):
        assert word in text, word
    page = html_of_document(record(call))
    assert "overflow-wrap: break-word" in page and "break-all" not in page and "&shy;" not in page


def test_the_same_call_gives_the_same_file(shipped_trees: Trees) -> None:
    call = abandoned(shipped_trees)
    assert pdf_of(record(call)) == pdf_of(record(call))


def test_what_is_typed_stands_on_paper_as_it_was_typed(shipped_trees: Trees) -> None:
    typed = "#panic() [/x] *b* _u_ $x$ \\n <b> `c` @ref = h"
    call = begun(shipped_trees, site=typed)
    call.note(typed)
    pages = PdfReader(io.BytesIO(pdf_of(record(call, firm=Firm(typed, foot="{nothing} #{firm}"))))).pages
    texts = [words(page.extract_text()) for page in pages]
    assert texts[0].count(words(typed)) >= 3, "firm, site, foot"
    assert "{nothing} #" in texts[0]
    assert sum(text.count(words(typed)) for text in texts[1:]) >= 2


def test_a_logo_that_is_no_picture_is_named(shipped_trees: Trees) -> None:
    with pytest.raises(PdfError, match="Is the logo in the settings a sound picture"):
        pdf_of(record(abandoned(shipped_trees), firm=Firm(logo=Logo(b"\x89PNG nothing", "png"))))


def test_a_word_longer_than_a_line_may_be_broken_and_no_other() -> None:
    assert soft(LONG) == LONG
    assert soft("x" * 100).replace("\u200b", "") == "x" * 100
    assert max(map(len, soft("x" * 100).split("\u200b"))) == 40
