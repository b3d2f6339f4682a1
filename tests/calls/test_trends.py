"""What wears at a door: lines through its readings, when they meet a limit, in words and as pictures."""

from __future__ import annotations

import io
import math
import random
import xml.etree.ElementTree as ElementTree
from datetime import UTC, datetime, timedelta
from importlib.resources import files
from pathlib import Path

import pytest
from pypdf import PdfReader
from scipy import stats

from benchmarks.trends import calls_at, false_trends, held
from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.document import Heading, Line, Picture, html_of_document, text_of
from diagnose.calls.doors import DoorRecord, Doors, known_at, recall
from diagnose.calls.owner_list import owner_list
from diagnose.calls.pdf import pdf_of
from diagnose.calls.report import record
from diagnose.calls.state import CallState, fold
from diagnose.calls.store import Store, decode, encode
from diagnose.calls.trend_words import PLAN, drawn, due_at, trend_in_words, trend_svg
from diagnose.calls.trends import lines_of, trends_at, trends_of
from diagnose.cli import main
from diagnose.formulas.wear import FEWEST, fitted, is_jump, reached, student
from diagnose.knowledge.model import Trees
from diagnose.sitting.cards import job_card
from diagnose.sitting.sitting import Sitting
from diagnose.sitting.telling import why

DAY = datetime(2021, 4, 12, 9, tzinfo=UTC)
CHAIN, LINING = "chain-elongation", "brake-lining-thickness"


def norris() -> tuple[list[float], list[float]]:
    """NIST StRD, Norris, from SciPy's test data: x and y, 36 points, after the header of 60 lines."""
    text = (files("scipy.stats") / "tests" / "data" / "nist_linregress" / "Norris.dat").read_text()
    rows = [line.split() for line in text.splitlines()[60:] if line.strip()]
    return [float(x) for _, x in rows], [float(y) for y, _ in rows]


# --- the arithmetic, against the outside ----------------------------------------------------------------------


def test_the_line_has_the_certified_values_of_norris() -> None:
    """NIST Statistical Reference Datasets, Norris: certified to 15 figures."""
    fit = fitted(*norris())
    assert fit is not None and fit.readings == 36
    assert fit.line.slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert fit.line.intercept == pytest.approx(-0.262323073774029, rel=1e-9)
    assert fit.line.slope_error == pytest.approx(0.429796848199937e-03, rel=1e-10)
    assert fit.line.residual_sd == pytest.approx(0.884796396144373, rel=1e-10)
    # The intercept's certified standard error is the band at zero, without Student's factor.
    assert fit.band(0.0) / student(0.9, 34) == pytest.approx(0.232818234301152, rel=1e-9)


def test_the_line_agrees_with_scipy() -> None:
    random_ = random.Random(4)
    for count in (5, 6, 9, 20):
        times = sorted(random_.uniform(0, 9) for _ in range(count))
        values = [0.3 * time + random_.gauss(0, 0.5) for time in times]
        fit, theirs = fitted(times, values), stats.linregress(times, values)
        assert fit is not None
        ours = (fit.line.slope, fit.line.intercept, fit.line.slope_error, fit.line.p)
        assert ours == pytest.approx((theirs.slope, theirs.intercept, theirs.stderr, theirs.pvalue), rel=1e-9)
        assert fit.band(0.0) / student(0.9, count - 2) == pytest.approx(theirs.intercept_stderr, rel=1e-9)


def test_students_factor_is_the_tables() -> None:
    assert student(0.95, 8) == pytest.approx(2.30600, abs=5e-6)


def test_the_limit_is_met_where_the_band_meets_it() -> None:
    """Fieller's ends are those times at which the line's own interval just holds the limit."""
    fit = fitted(*norris())
    assert fit is not None
    met = reached(fit, 1200.0)
    assert met is not None and met.soonest < met.likeliest < met.latest
    assert fit.at(met.likeliest) == pytest.approx(1200.0)
    assert fit.at(met.soonest) + fit.band(met.soonest) == pytest.approx(1200.0, rel=1e-9)
    assert fit.at(met.latest) - fit.band(met.latest) == pytest.approx(1200.0, rel=1e-9)
    # Far from zero slope Fieller's interval is the first-order one of the GUM (JCGM 100:2008, 5.1.2).
    assert (met.latest - met.soonest) / 2 == pytest.approx(fit.band(met.likeliest) / fit.line.slope, rel=1e-4)


def test_a_slope_that_may_be_nothing_bounds_one_side_or_none() -> None:
    times = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]
    unclear = fitted(times, [0.0, 0.5, -0.2, 0.6, 0.0, 0.5])
    assert unclear is not None and unclear.line.p > 0.1
    far = reached(unclear, 50.0)
    assert far is not None and far.latest == math.inf and far.soonest > 5
    assert reached(unclear, 0.2) is None, "the limit is within the band already: any time may be the one"
    assert reached(unclear, -50.0) is None, "the line goes away from it"
    flat = fitted(times, [1.0] * 6, least_sd=0.1)
    assert flat is not None and reached(flat, 2.0) is None


def test_too_few_readings_make_no_line() -> None:
    assert fitted([0.0, 1.0, 2.0, 3.0], [0.0, 1.0, 2.0, 3.0]) is None
    assert fitted([1.0] * FEWEST, [0.0] * FEWEST) is None


def test_a_jump_is_no_line() -> None:
    times = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0]
    assert is_jump(times, [1.0, 1.1, 0.9, 1.0, 3.0, 3.1, 2.9])
    assert not is_jump(times, [1.0, 1.31, 1.58, 1.92, 2.18, 2.52, 2.79])


# --- the lines of a door --------------------------------------------------------------------------------------


def visit(number: int, *events: ev.Event, walk: str = "") -> CallState:
    """A call begun so many years after the first, of these events, and returned to service."""
    at = (DAY + number * timedelta(days=365)).isoformat()
    made: list[ev.AnyEvent] = [ev.Opened(sequence=1, at=at, site="Alder Works", door="Dock 3", walk=walk)]
    for sequence, event in enumerate((*events, ev.Closed(sequence=0, at="", outcome="returned to service")), start=2):
        fields = {name: getattr(event, name) for name in event.__struct_fields__}
        made.append(type(event)(**{**fields, "sequence": sequence, "at": at}))  # type: ignore[arg-type]
    return fold(made)


def read(check: str, value: float, heard: str = "seen") -> ev.Answered:
    return ev.Answered(sequence=0, at="", check=check, raw=str(value), value=(value,), heard=heard)  # type: ignore[arg-type]


def lining(*shares: float) -> list[CallState]:
    """A brake's lining at yearly visits, in percent."""
    return [visit(number, read(LINING, share)) for number, share in enumerate(shares)]


WORN = (96.0, 90.1, 83.8, 78.2, 71.9, 66.1)


def values(trees: Trees, calls: list[CallState], check: str) -> list[float]:
    return [read.values[0] for read in lines_of(trees, calls).get(check, ())]


def test_only_what_was_seen_is_a_line(shipped_trees: Trees) -> None:
    calls = [*lining(90, 80), visit(2, read(LINING, 70, heard="told"))]
    assert values(shipped_trees, calls, LINING) == [90, 80]


def test_a_repair_of_what_is_measured_begins_it_anew(shipped_trees: Trees) -> None:
    renewed = visit(2, read(LINING, 40), ev.Tried(sequence=0, at="", remedy="replace-brake-lining", worked=True))
    assert values(shipped_trees, [*lining(90, 80), renewed], LINING) == []
    after = visit(3, read(LINING, 100))
    assert values(shipped_trees, [*lining(90, 80), renewed, after], LINING) == [100]
    elsewhere = visit(2, read(LINING, 70), ev.Tried(sequence=0, at="", remedy="clear-opening", worked=True))
    assert values(shipped_trees, [*lining(90, 80), elsewhere], LINING) == [90, 80, 70]


def test_a_new_operator_begins_all_anew(shipped_trees: Trees) -> None:
    put_up = next(walk.id for walk in shipped_trees.walks.values() if walk.ends == "handed over")
    service = next(walk.id for walk in shipped_trees.walks.values() if walk.ends != "handed over")
    assert values(shipped_trees, [*lining(90, 80), visit(2, read(LINING, 100), walk=put_up)], LINING) == [100]
    assert values(shipped_trees, [*lining(90, 80), visit(2, read(LINING, 70), walk=service)], LINING) == [90, 80, 70]


def test_what_is_computed_takes_a_value_from_an_earlier_call(shipped_trees: Trees) -> None:
    """The chain's span is no degree and is read once; its sag at each visit."""
    first = visit(0, read("chain-span", 3.0), read("chain-sag", 0.03))
    calls = [first, visit(1, read("chain-sag", 0.045)), visit(2, read("chain-sag", 0.06))]
    shares = values(shipped_trees, calls, "chain-movement-percent")
    assert shares == pytest.approx([shares[0], 1.5 * shares[0], 2 * shares[0]])


def test_wear_is_shown_with_the_date_of_its_limit(shipped_trees: Trees) -> None:
    (trend,) = trends_of(shipped_trees, lines_of(shipped_trees, lining(*WORN)))
    assert trend.check.id == LINING and trend.limit == 40
    # Six percent a year from 96: at 40 after nine years and four months, in August 2030.
    assert trend.reached is not None and trend.reached.likeliest == pytest.approx(9.33, abs=0.15)
    said = trend_in_words(trend)
    assert "about 6.0" in said or "6.0" in said
    assert "limit of 40" in said and "2030" in said and "90 times in 100" in said
    assert not trend.is_due(DAY + timedelta(days=5 * 365)) and trend.is_due(DAY + timedelta(days=8 * 365))


def test_what_stays_is_not_shown(shipped_trees: Trees) -> None:
    assert trends_of(shipped_trees, lines_of(shipped_trees, lining(80, 81, 79.5, 80.4, 80.1, 80.6))) == ()


def test_what_jumps_is_not_shown_as_wear(shipped_trees: Trees) -> None:
    assert trends_of(shipped_trees, lines_of(shipped_trees, lining(96, 95.5, 96.2, 70, 69.6, 70.3))) == ()


def test_what_is_past_its_limit_is_due(shipped_trees: Trees) -> None:
    (trend,) = trends_of(shipped_trees, lines_of(shipped_trees, lining(80, 70.5, 59.8, 50.1, 40.2, 30.1)))
    assert trend.is_past and trend.is_due(DAY) and "past its limit" in trend_in_words(trend)


def test_a_picture_has_every_reading_line_and_limit(shipped_trees: Trees) -> None:
    (trend,) = trends_of(shipped_trees, lines_of(shipped_trees, lining(*WORN)))
    rows = drawn(trend)
    assert max(map(len, rows)) <= 78 and all(row.isascii() for row in rows)
    text = "\n".join(rows[:-2])
    assert text.count("o") == len(WORN) and "---" in text and "..." in text
    assert "Apr 2021" in rows[-1]


def test_a_drawing_is_sound_svg_with_every_reading(shipped_trees: Trees) -> None:
    (trend,) = trends_of(shipped_trees, lines_of(shipped_trees, lining(*WORN)))
    svg = ElementTree.fromstring(trend_svg(trend))
    assert len(svg.findall(".//{http://www.w3.org/2000/svg}circle")) == len(WORN)
    assert svg.findtext("{http://www.w3.org/2000/svg}title") == trend.check.text


# --- through the program --------------------------------------------------------------------------------------


@pytest.fixture
def store(tmp_path: Path, shipped_trees: Trees) -> Store:
    """A store with a door whose lining wore over six yearly visits."""
    kept = Store.open(tmp_path / "calls.db")
    Doors.of(kept).keep(DoorRecord(site="Alder Works", name="Dock 3", facts={"drive": "trolley"}))
    for number, share in enumerate((85.0, 77.1, 69.2, 60.8, 53.1, 45.0)):
        at = DAY + number * timedelta(days=365)
        named = kept.begin()
        call = Call(
            shipped_trees,
            {"drive": "trolley"},
            site="Alder Works",
            door="Dock 3",
            recorder=kept.recorder(named),
            clock=lambda at=at: at,  # type: ignore[misc]
        )
        call.answer(LINING, f"{share} %")
        call.close("left out of service", "Fictional: only looked over.")
    return kept


def test_a_call_recalls_the_lines_of_its_door_and_ends_with_what_is_due(store: Store, shipped_trees: Trees) -> None:
    known = known_at(store, shipped_trees, "alder works", "dock 3")
    assert len(known.lines[LINING]) == 6
    today = DAY + timedelta(days=6 * 365)
    call = Call(shipped_trees, {"drive": "trolley"}, site="Alder Works", door="Dock 3", clock=lambda: today)
    call.recall(known.readings, known.lines)
    again = Call(shipped_trees, history=[decode(encode(event)) for event in call.events])
    assert again.state.lines == call.state.lines
    call.answer(LINING, "37 %")
    (trend,) = trends_at(call)
    assert len(trend.readings) == 7 and trend.is_past
    call.close("left out of service", "Fictional: the lining is ordered.")
    card = Sitting(call).put().card
    assert card.id == "closed" and [text for label, text in card.lines if label == PLAN] == due_at(call) != []
    assert PLAN.casefold() in text_of(record(call)).casefold()


def test_every_face_of_the_record_has_what_changes_in_words_and_as_a_picture(
    store: Store, shipped_trees: Trees
) -> None:
    known = known_at(store, shipped_trees, "alder works", "dock 3")
    today = DAY + timedelta(days=6 * 365)
    call = Call(shipped_trees, {"drive": "trolley"}, site="Alder Works", door="Dock 3", clock=lambda: today)
    assert not any(isinstance(block, Picture) for block in record(call).rest)
    call.recall(known.readings, known.lines)
    (trend,) = trends_at(call)
    blocks = record(call).rest
    at = blocks.index(Heading("What changes at this door"))
    line, picture = blocks[at + 1 : at + 3]
    assert line == Line(trend_in_words(trend, "both")) and picture == Picture(
        trend_svg(trend), "\n".join(drawn(trend)), trend.check.text
    )
    assert all(row.rstrip() in text_of(record(call)).splitlines() for row in drawn(trend))
    page = html_of_document(record(call))
    assert page.count(trend_svg(trend)) == 1 and page.index(trend_svg(trend)) < page.index("<h2>History</h2>")
    pages = PdfReader(io.BytesIO(pdf_of(record(call)))).pages
    assert "Apr 2021" in " ".join(page.extract_text() for page in pages), "it stands on the drawing alone"


def test_a_door_shows_what_changes_at_it(store: Store, capsys: pytest.CaptureFixture[str]) -> None:
    where = store.where
    store.close()
    assert main(["--store", where, "door", "show", "dock 3"]) == 0
    shown = capsys.readouterr().out
    assert "What changes at this door" in shown and "Thickness of the brake lining" in shown
    assert "  |" in shown and PLAN in shown


def test_a_call_begun_on_the_phone_has_the_memory_of_its_door_where_it_is_taken_up(
    store: Store, shipped_trees: Trees
) -> None:
    named = store.begin()
    call = Call(shipped_trees, {"construction": "sectional"}, recorder=store.recorder(named))
    assert recall(store, call, named) == "" and not call.state.lines, "nobody has said where it is"
    call.state_place("alder works", "dock 3")
    assert "is known" in recall(store, call, named)
    assert call.state.facts == {"construction": "sectional", "drive": "trolley"} and len(call.state.lines[LINING]) == 6
    events = len(call.events)
    assert recall(store, call, named) == "" and len(call.events) == events, "once"


def test_line_by_line_a_call_that_is_taken_up_recalls(
    store: Store, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], shipped_trees: Trees
) -> None:
    named, where = store.begin(), store.where
    Call(
        shipped_trees,
        {},
        ["noisy-operator"],
        site="Alder Works",
        door="Dock 3",
        recorder=store.recorder(named),
    )
    store.close()
    monkeypatch.setattr("sys.stdin", io.StringIO("quit\n"))
    assert main(["--store", where, "ask", "--call", named]) == 0
    assert "This door is known" in capsys.readouterr().out
    again = Store.open(where)
    assert len(fold(again.events(named)).lines[LINING]) == 6
    again.close()


def test_why_says_what_was_read_then_and_now(shipped_trees: Trees) -> None:
    check = shipped_trees.checks["control-volts"]
    then = ev.Then((26.0,), "V", DAY.isoformat())
    call = Call(shipped_trees, {"drive": "trolley"}, ["dead-no-response"])
    call.recall({check.id: then})
    call.answer(check.id, "20.1 V")
    told = [line.text for line in why(call, Sitting(call).put().planned)]
    assert "Then and now" in told
    assert any(check.text in text and "then 26.0 V, now 20.1 V" in text for text in told)


def test_a_yearly_service_leaves_the_owner_a_list(store: Store, shipped_trees: Trees) -> None:
    known = known_at(store, shipped_trees, "alder works", "dock 3")
    today = DAY + timedelta(days=6 * 365)
    call = Call(shipped_trees, {"drive": "trolley"}, walk="yearly-service", clock=lambda: today)
    assert owner_list(call) == []
    call.recall({"motor-current": ev.Then((5.1,), "A", DAY.isoformat())}, known.lines)
    call.answer(LINING, "37 %")
    call.answer("motor-current", "7.9 A")
    call.answer("mounting-travel", "0.5 in")
    call.note("The owner's own ladder is in the way.")
    listed = owner_list(call)
    assert [text.partition(":")[0] for text in listed] == [
        shipped_trees.checks[LINING].text,
        shipped_trees.checks["motor-current"].text,
        shipped_trees.checks["mounting-travel"].text,
        "The owner's own ladder is in the way.",
    ]
    assert "then 5.1" in listed[1] and "past its limit of 1/4 in" in listed[2]
    last = job_card(call, shipped_trees.jobs["care-list"], "")
    assert [text for label, text in last.lines if label == "For the owner"] == listed
    assert "for the owner" in text_of(record(call)).casefold()
    put_up = Call(shipped_trees, {"drive": "trolley"}, walk="commissioning")
    assert "for the owner" not in text_of(record(put_up)).casefold()


# --- how often it is right, in small -------------------------------------------------------------------------


def test_the_interval_holds_and_steady_doors_show_nothing(shipped_trees: Trees) -> None:
    """The benchmark in small: 90 % of 150 doors, and 5 % of 150, give or take three standard deviations."""
    _, right = held(shipped_trees, 150, random.Random(5))
    assert 0.82 <= right / 150 <= 0.98
    assert false_trends(shipped_trees, 150, random.Random(6)) / 150 <= 0.10


def test_simulated_doors_are_calls(shipped_trees: Trees) -> None:
    calls = calls_at(shipped_trees, {LINING: (90.0, -5.0)}, 6, random.Random(1))
    assert len(values(shipped_trees, calls, LINING)) == 6
