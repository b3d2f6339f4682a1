"""The shop's figures: right counts, limits that keep noise from being news, and the same in every form."""

from __future__ import annotations

import csv
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from sklearn.calibration import calibration_curve

from diagnose.calls.document import html_of_document
from diagnose.calls.store import Store
from diagnose.cli import main
from diagnose.knowledge.model import UNLISTED, Trees
from diagnose.learning import paper
from diagnose.learning.lessons import Lesson, PartRow, period_of
from diagnose.learning.records import Lessons
from diagnose.learning.shop import Shop, Table, shop
from tests.learning.test_learn_command import SMALL, a_lesson


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store.open(tmp_path / "shop.sqlite3")


def keep(store: Store, *lessons: Lesson) -> Lessons:
    kept = Lessons.of(store)
    for each in lessons:
        store.claim(each.outcome.call_id)
        kept.keep(each.outcome.call_id, each)
    return kept


def lesson(number: int, cause: str = "eye-wiring-open", **more: object) -> Lesson:
    return a_lesson(f"2031-{number:05d}", cause, **more)


def table(figures: Shop, name: str) -> Table:
    return next(each for each in figures.tables if each.name == name)


def test_causes_are_counted_and_shared(store: Store, small_trees: Trees) -> None:
    kept = keep(store, *(lesson(n, "eye-dead" if n % 4 == 0 else "eye-wiring-open") for n in range(40)))
    rows = table(shop(small_trees, kept), "causes").rows
    assert [row[1:] for row in rows] == [(30, 0.75), (10, 0.25)]
    assert rows[0][0] == small_trees.causes["eye-wiring-open"].title


def test_a_site_that_is_only_chance_is_no_news_and_one_that_is_not_is(store: Store, small_trees: Trees) -> None:
    made = []
    for number in range(400):
        at = ("Kiln Yard", "Mill Lane", "Harbour", "Quarry Road")[number % 4]
        dead = number % (3 if at == "Harbour" else 10) == 0
        made.append(lesson(number, "eye-dead" if dead else "eye-wiring-open", site=at))
    rows = table(shop(small_trees, keep(store, *made)), "causes-by-site").rows
    news = {(row[0], row[4]) for row in rows if row[4] and "failed inside" in str(row[1])}
    assert ("Harbour", "more") in news
    assert {"Mill Lane", "Quarry Road"}.isdisjoint({at for at, said in news if said == "more"})


def test_rates_by_quarter_and_minutes_against_the_promise(store: Store, small_trees: Trees) -> None:
    made = []
    for number in range(60):
        day = date(2031, 2 if number < 30 else 8, 3)
        slow = number % 3 == 0
        made.append(
            lesson(
                number,
                day=day.toordinal(),
                period=period_of(day),
                visits=2 if slow else 1,
                took=120.0 if slow else 50.0,
            )
        )
    figures = shop(small_trees, keep(store, *made))
    first = table(figures, "fixed-first").rows
    assert [row[:3] for row in first] == [
        ("2031, January to March", 30, pytest.approx(2 / 3, abs=1e-3)),
        ("2031, July to September", 30, pytest.approx(2 / 3, abs=1e-3)),
    ]
    assert all(row[5] == "" for row in first)
    assert table(figures, "promise").rows[0][2:] == (60.0, pytest.approx(73.3), pytest.approx(2 / 3, abs=1e-3))
    assert table(figures, "second-trips").rows[0][2] == pytest.approx(1 / 3, abs=1e-3)
    later = shop(small_trees, Lessons.of(store), since=date(2031, 7, 1))
    assert later.calls == 30


def test_a_door_that_keeps_coming_back_stands_out(store: Store, small_trees: Trees) -> None:
    made = [lesson(number, door=str(number % 20)) for number in range(20)]
    made += [lesson(100 + number, door="7") for number in range(9)]
    rows = table(shop(small_trees, keep(store, *made)), "coming-back").rows
    assert rows == (("Kiln Yard", "7", 10),)


def test_calibration_on_real_calls_is_scikit_learns(store: Store, small_trees: Trees) -> None:
    random = np.random.default_rng(3)
    said = random.uniform(0.05, 0.99, 300)
    right = random.random(300) < said
    made = [
        lesson(number, chance=float(chance), led="eye-wiring-open" if hit else "eye-dead")
        for number, (chance, hit) in enumerate(zip(said, right, strict=True))
    ]
    bins = shop(small_trees, keep(store, *made)).calibration
    true, predicted = calibration_curve(right, said, n_bins=10)
    assert [each.came_true for each in bins] == pytest.approx(list(true))
    assert [each.predicted for each in bins] == pytest.approx(list(predicted))


def test_a_check_that_never_moves_anything_is_named(store: Store, small_trees: Trees) -> None:
    made = []
    for number in range(12):
        told = lesson(number)
        idle = replace(told.findings[0], check_id="eye-lamp-transmitter", moved=0.001, minutes=5.0)
        made.append(replace(told, findings=(*told.findings, idle)))
    figures = shop(small_trees, keep(store, *made))
    assert [row[0] for row in table(figures, "idle-checks").rows] == [small_trees.checks["eye-lamp-transmitter"].text]
    assert table(figures, "saved").rows[1][1] == 60.0


def test_parts_are_counted_with_the_trips_they_cost(store: Store, small_trees: Trees) -> None:
    kept = keep(store, *(lesson(n, visits=1 + n % 2) for n in range(10)))
    parts = small_trees.remedies["remake-splice"].parts
    rows = {row[0]: row[1:] for row in table(shop(small_trees, kept), "parts").rows}
    assert rows == {small_trees.parts[part].title: (0, 10 * count, 0, 5) for part, count in parts.items()}


def test_what_the_van_carried_and_what_was_not_there_stand_beside_what_was_used(
    store: Store, small_trees: Trees
) -> None:
    (used,), gone = small_trees.remedies["remake-splice"].parts, "a part that is in no tree"
    count = small_trees.remedies["remake-splice"].parts[used]
    made = [lesson(n) for n in range(3)]
    rows = ((PartRow("", used, 4, 0),), (PartRow("", used, 1, 2), PartRow("", gone, 1, 1)), ())
    told = zip(made, rows, strict=True)
    kept = keep(
        store,
        *(replace(each, parts=tuple(replace(p, call_id=each.outcome.call_id) for p in parts)) for each, parts in told),
    )
    shown = table(shop(small_trees, kept), "parts")
    assert shown.columns == ("part", "carried", "used", "missing", "second trips")
    assert shown.rows == (
        (small_trees.parts[used].title, 5, 3 * count, 2, 0),
        (gone, 1, 0, 1, 0),
    )
    assert not table(shop(small_trees, kept, date(2099, 1, 1)), "parts").rows


def test_calls_that_wait_are_listed(store: Store, small_trees: Trees) -> None:
    from diagnose.calls.call import Call

    call = Call(small_trees, {}, ["eye-lamp-wrong"], site="Mill Lane", recorder=store.recorder(store.begin()))
    call.done("clean-lenses")
    rows = table(shop(small_trees, Lessons.of(store)), "waiting").rows
    assert [(row[2], row[4]) for row in rows] == [("Mill Lane", "repaired, not yet tried")]


# --- in every form -------------------------------------------------------------------------------------------


@pytest.fixture
def busy(store: Store, small_trees: Trees) -> Shop:
    made = [lesson(n, "eye-dead" if n % 4 == 0 else "eye-wiring-open", site="=A1 <b>[/x]") for n in range(20)]
    other = lesson(99, UNLISTED, site="Mill Lane")
    van = (PartRow(other.outcome.call_id, "splice-kit", 2, 0), PartRow(other.outcome.call_id, "eye-cable", 0, 1))
    return shop(small_trees, keep(store, *made, replace(other, parts=van)))


def test_one_page_holds_every_table_and_nothing_of_it_is_markup(busy: Shop) -> None:
    page = html_of_document(paper.shop_document(busy))
    assert all(f"<h2>{each.title}</h2>" in page for each in busy.tables)
    assert "<svg" in page and "&lt;b&gt;" in page and "<b>" not in page
    assert "http://" not in page.replace("http://www.w3.org/2000/svg", "") and "https://" not in page


def test_a_csv_has_the_rows_and_no_formula(busy: Shop, tmp_path: Path) -> None:
    files = paper.write_csv(busy, tmp_path / "out")
    assert len(files) == len(busy.tables)
    with (tmp_path / "out" / "causes.csv").open(newline="") as read:
        rows = list(csv.reader(read))
    assert rows[0] == ["cause", "calls", "share"] and rows[1][1:] == ["15", "0.75"]
    assert "'=A1" in (tmp_path / "out" / "causes-by-site.csv").read_text()


def test_parquet_holds_the_same(busy: Shop, tmp_path: Path) -> None:
    parquet = pytest.importorskip("pyarrow.parquet", reason="pyarrow is not installed")
    paper.write_parquet(busy, tmp_path / "out")
    filled = [each for each in busy.tables if each.rows]
    assert {"causes", "parts"} <= {each.name for each in filled}
    for each in filled:
        read = parquet.read_table(tmp_path / "out" / f"{each.name}.parquet")
        assert tuple(read.column_names) == each.columns, each.name
        assert [tuple(row.values()) for row in read.to_pylist()] == list(each.rows), each.name


def test_without_its_package_parquet_is_refused_plainly(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    place = str(tmp_path / "shop.sqlite3")
    assert main(["--trees", SMALL, "--store", place, "shop", "--parquet", str(tmp_path / "out")]) == 2
    assert "needs the Python package 'pyarrow'" in capsys.readouterr().err


def test_the_command_prints_and_writes(
    store: Store, tmp_path: Path, capsys: pytest.CaptureFixture[str], small_trees: Trees
) -> None:
    place = str(tmp_path / "shop.sqlite3")
    assert main(["--trees", SMALL, "--store", place, "shop"]) == 1
    keep(store, *(lesson(n) for n in range(5)))
    capsys.readouterr()
    assert main(["--trees", SMALL, "--store", place, "shop"]) == 0
    said = capsys.readouterr().out
    assert "5 closed calls." in said and "█" in said and "THE COMMONEST CAUSES" in said
    page, folder = tmp_path / "shop.html", tmp_path / "csv"
    assert main(["--trees", SMALL, "--store", place, "shop", "--html", str(page), "--csv", str(folder)]) == 0
    assert page.read_text().startswith("<!DOCTYPE html>") and list(folder.glob("*.csv"))
    assert main(["--trees", SMALL, "--store", place, "shop", "--html", str(tmp_path / "no" / "x.html")]) == 2
    assert "cannot be written" in capsys.readouterr().err
