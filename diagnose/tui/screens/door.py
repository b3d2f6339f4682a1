"""What is said about the door before the first question: the complaint, the facts that matter, who is here."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Iterable
from dataclasses import dataclass, replace
from typing import Literal

from textual import events, on, work
from textual.containers import Container
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from diagnose.calls.call import Call
from diagnose.calls.words import NOT_KNOWN, fact_in_words, in_groups, title
from diagnose.knowledge.fitting import fitting, laid_over, misfits, tree_facts
from diagnose.sitting.choices import KEYS, Choice
from diagnose.sitting.door_facts import facts_implied, facts_of_walk, facts_that_matter
from diagnose.sitting.say import AnyAct, StateComplaints, StateFact, StatePeople, StatePlace
from diagnose.tui import actions
from diagnose.tui.desk import Stated
from diagnose.tui.keys import key_for
from diagnose.tui.rows import meant_rows, symptom_rows
from diagnose.tui.saver import InHand
from diagnose.tui.screens.page import ListPage, Page
from diagnose.tui.text import assemble, one_line, plain, stack
from diagnose.tui.widgets.asked import Asked
from diagnose.tui.widgets.choices import Choices
from diagnose.tui.widgets.line import Line
from diagnose.tui.widgets.paragraphs import Hanging
from diagnose.tui.widgets.pick_list import Row, heading

# Cells of a line up to what is said: its mark and its title.
_TITLES = 29


@dataclass(frozen=True)
class _Row:
    """A line of the form. ``answers`` are (value, shown); a row without any is typed, or has a page of its own."""

    kind: Literal["complaint", "people", "fact", "site", "door"]
    id: str
    title: str
    ask: str
    how: str = ""
    answers: tuple[tuple[str, str], ...] = ()
    many: bool = False
    group: str = ""

    @property
    def typed(self) -> bool:
        return self.kind in ("site", "door")

    @property
    def name(self) -> str:
        return f"{self.kind}:{self.id}"


class Door(Page["InHand"]):
    """A form answered by single keys. For a new call it is dismissed with the call that ``begin`` made.

    With ``in_hand`` it corrects a call: each line left is one event. With ``kept`` it says which door is to be kept,
    and ``begin`` keeps it: it gives back why not, or nothing.
    """

    place = actions.DOOR

    def __init__(
        self,
        stated: Stated,
        *,
        begin: Callable[[Stated], Awaitable[InHand | str]] | None = None,
        in_hand: InHand | None = None,
        kept: bool = False,
    ) -> None:
        where = "Doors › Add a door" if kept else "Call › The door" if in_hand else "New call › The door"
        super().__init__(where)
        self._kept = kept
        self.stated = stated
        self._begin = begin
        self._in_hand = in_hand
        self._rows: list[_Row] = []
        self._at = 0

    def body(self) -> Iterable[Widget]:
        with Container(id="facts"):
            yield OptionList(id="form", markup=False)
            yield Asked(Static(id="ask", markup=False), Choices())
        yield Input(id="typed", max_length=120)
        yield Line(id="trouble")

    def on_mount(self) -> None:
        self.query_one(OptionList).can_focus = False
        if self._in_hand is None:
            implied = facts_implied(self.desk.trees, self.stated.symptoms)
            self.stated = replace(self.stated, facts=laid_over(self.desk.trees.facts, implied, self.stated.facts))
        self._rows = self._make_rows()
        unsaid = (i for i, row in enumerate(self._rows) if row.kind == "fact" and row.id not in self.stated.facts)
        first = next(unsaid, len(self._rows) - 1)
        self._go(first if self._in_hand is None and not self._kept else 0)

    def _make_rows(self) -> list[_Row]:
        trees = self.desk.trees
        people = tuple((person, each.title) for person, each in trees.people.items() if person != "anyone")
        rows = [
            _Row("complaint", "", "Complaint", "What does the door do wrong?"),
            _Row("people", "", "Who is here", "Who is at the door, and may do such work?", answers=people, many=True),
        ]
        walk = trees.walks.get(self.stated.walk)
        if walk is not None and not self.stated.symptoms:
            rows[0] = _Row("complaint", "", "Work", f"{walk.title}. A complaint may be added at any time.")
        facts = facts_of_walk(trees, walk.id) if walk is not None else facts_that_matter(trees, self.stated.symptoms)
        if self._kept:
            rows, facts = [], tuple(trees.facts)
        settled = tree_facts(trees, self.stated.facts).keys() - self.stated.facts.keys()
        for group, named in in_groups(trees, (fact for fact in facts if fact not in settled)).items():
            for entry in map(trees.facts.__getitem__, named):
                if entry.first == "yes" or walk is not None or self._in_hand is not None or self._kept:
                    answers = tuple((answer, entry.called(answer)) for answer in entry.answers)
                    many = entry.many == "yes"
                    rows.append(_Row("fact", entry.id, entry.title, entry.ask, entry.how, answers, many, group))
        end = "begins" if self._in_hand is None and not self._kept else "goes on"
        place = [
            _Row("site", "", "Site", "Which site is it? Enter goes on; it may stay empty."),
            _Row("door", "", "Name of the door", f"What is this door called there? Enter {end}; it may stay empty."),
        ]
        return [*place, *rows] if self._kept else [*rows, *place]

    # --- showing -------------------------------------------------------------------------------------------

    @property
    def _row(self) -> _Row:
        return self._rows[self._at]

    def _go(self, index: int) -> None:
        self._at = max(0, min(index, len(self._rows) - 1))
        row = self._row
        choices, typed = self.query_one(Choices), self.query_one(Input)
        typed.display = row.typed
        choices.show(self._choices(), self._held() if row.many else None)
        if row.typed:
            with typed.prevent(Input.Changed):
                typed.value = getattr(self.stated, row.kind)
            typed.focus()
        else:
            choices.focus(scroll_visible=False)
        self._paint()
        self.query_one(Asked).put()

    def _choices(self) -> tuple[Choice, ...]:
        row = self._row
        if row.kind == "complaint":
            return (Choice("1", "Change or add to the complaint", "change"),)
        if row.typed:
            return ()
        answers = [Choice(key, shown, value) for key, (value, shown) in zip(KEYS, row.answers, strict=False)]
        if row.kind == "fact":
            answers.append(Choice("0", NOT_KNOWN, ""))
        return tuple(answers)

    def _paint(self) -> None:
        form, row, group = self.query_one(OptionList), self._row, ""
        form.clear_options()
        for each in self._rows:
            if each.group not in ("", group):
                form.add_option(Option(heading(each.group).hanging(), disabled=True))
            group = each.group
            form.add_option(Option(Hanging(self._line(each), " " * _TITLES), each.name))
        form.highlighted = form.get_option_index(row.name)
        words: list[Content] = [plain(row.ask, "bold")]
        if row.many:
            words.append(plain("Each key ticks or unticks one. Enter goes on.", "$text-muted"))
        if row.how:
            words.append(plain(row.how))
        self.query_one("#ask", Static).update(stack(words))

    def _line(self, row: _Row) -> Content:
        shown = self._shown(row)
        return assemble(f"  {one_line(row.title):<{_TITLES - 3}} ", (shown or NOT_KNOWN, "bold" if shown else ""))

    def _shown(self, row: _Row) -> str:
        stated = self.stated
        if row.kind == "complaint":
            symptoms = "; ".join(title(self.desk.trees, "symptoms", symptom) for symptom in stated.symptoms)
            return symptoms or (title(self.desk.trees, "walks", stated.walk) if stated.walk else "")
        if row.kind == "people":
            titles = dict(row.answers)
            return ", ".join(titles[person] for person in stated.people if person in titles) or "nobody named"
        if row.kind == "fact":
            value = stated.facts.get(row.id, "")
            return fact_in_words(self.desk.trees, row.id, value) if value != "" else ""
        return one_line(getattr(stated, row.kind))

    def _held(self) -> tuple[str, ...]:
        """What is ticked in the present row."""
        if self._row.kind == "people":
            return self.stated.people
        value = self.stated.facts.get(self._row.id, ())
        return (value,) if isinstance(value, str) else value

    # --- what is said --------------------------------------------------------------------------------------

    def on_key(self, event: events.Key) -> None:
        """Numbers answer; capital and small letters do too, where there are more than nine answers."""
        asked, choice = self.query_one(Asked), self.query_one(Choices).by_key(event.character or "")
        if event.key == "enter" and (asked.read_on() or self._row.many):
            if asked.all_seen:
                self._leave(self._at + 1)
            event.stop()
        elif choice is not None:
            # Taken at once, not by message: the next key may already be on its way, and be meant for the next line.
            if not asked.read_on():
                self._take(choice)
            event.stop()

    @on(Choices.Chosen)
    def _chosen(self, event: Choices.Chosen) -> None:
        self._take(event.choice)

    def _take(self, choice: Choice) -> None:
        row, value = self._row, choice.name
        if row.kind == "complaint":
            self._change_complaint()
        elif row.many and value:
            held = tuple(v for v in self._held() if v != value) if value in self._held() else (*self._held(), value)
            if not self._hold(tuple(answer for answer in self._order(row) if answer in held)):
                return
            self.query_one(Choices).show(self._choices(), self._held(), keep=True)
            self._paint()
        elif self._hold(value):
            self._leave(self._at + 1)

    @staticmethod
    def _order(row: _Row) -> list[str]:
        return [value for value, _ in row.answers] if row.kind == "fact" else ["anyone", *(v for v, _ in row.answers)]

    def _hold(self, value: str | tuple[str, ...]) -> bool:
        """Keep what was said in the present row; false where it does not go with the rest, which is said."""
        row = self._row
        if row.kind == "people":
            self.stated = replace(self.stated, people=("anyone", *(v for v in value if v != "anyone")))
        elif row.kind == "fact":
            facts = {fact: held for fact, held in self.stated.facts.items() if fact != row.id}
            known = self.desk.trees.facts
            facts |= {row.id: value} if value else {}
            wrong = next((f"{wrong} {mend}" for name, wrong, mend in misfits(known, facts) if name == row.id), "")
            self.refuse(wrong)
            if wrong:
                return False
            self.stated = replace(self.stated, facts=fitting(known, facts))
            # What was said of one fact may settle others.
            self._rows = self._make_rows()
            self._at = self._rows.index(row)
        return True

    @on(Input.Changed)
    def _typing(self, event: Input.Changed) -> None:
        if self._row.kind == "site":
            self.stated = replace(self.stated, site=event.value)
        elif self._row.kind == "door":
            self.stated = replace(self.stated, door=event.value)
        self._paint()

    @on(OptionList.OptionSelected)
    def _clicked(self, event: OptionList.OptionSelected) -> None:
        self._leave(next(n for n, row in enumerate(self._rows) if row.name == event.option_id), stay=True)

    @on(Input.Submitted)
    def _entered(self) -> None:
        self._leave(self._at + 1)

    # --- going on ------------------------------------------------------------------------------------------

    def action_next_row(self) -> None:
        self._leave(self._at + 1, stay=True)

    def action_previous_row(self) -> None:
        self._leave(self._at - 1, stay=True)

    def action_begin(self) -> None:
        self._leave(len(self._rows))

    def action_back(self) -> None:
        """Away; what the present line changed is not recorded."""
        self.dismiss(None)

    def _leave(self, index: int, stay: bool = False) -> None:
        """Go to another line, or past the last one."""
        if self._in_hand is None and (index < len(self._rows) or stay):
            self._go(index)
        else:
            self._record_and_leave(index, stay)

    @work(exclusive=True, group="door")
    async def _record_and_leave(self, index: int, stay: bool) -> None:
        """What was corrected in a call is recorded before the line is left."""
        if self._in_hand is not None and (act := self._changed(self._in_hand.call)) is not None:
            told = await self.desk.say(self._in_hand, act)
            if told.refused:
                self.refuse(told.refused)
                return
        if index < len(self._rows) or stay:
            self._go(index)
        elif self._begin is None:
            self.dismiss(None)
        else:
            begun = await self._begin(self.stated)
            if begun and isinstance(begun, str):
                self.refuse(begun)
            else:
                self.dismiss(begun or None)

    def _changed(self, call: Call) -> AnyAct | None:
        """One act for what the present line changed."""
        row, stated, state = self._row, self.stated, call.state
        if row.kind == "people" and set(stated.people) != set(state.people):
            return StatePeople(people=stated.people)
        if row.kind == "fact" and stated.facts.get(row.id, "") != state.facts.get(row.id, ""):
            return StateFact(fact=row.id, value=stated.facts.get(row.id, ""))
        if row.typed and (stated.site, stated.door) != (state.site, state.door):
            return StatePlace(site=stated.site, door=stated.door)
        return None

    @work(exclusive=True, group="complaint")
    async def _change_complaint(self) -> None:
        chosen = await self.app.push_screen_wait(Complaint(self.stated.symptoms))
        if not chosen or chosen == self.stated.symptoms:
            return
        if self._in_hand is not None:
            told = await self.desk.say(self._in_hand, StateComplaints(symptoms=chosen))
            if told.refused:
                self.refuse(told.refused)
                return
        self.stated = replace(self.stated, symptoms=chosen)
        self._rows = self._make_rows()
        self._go(0)


class Complaint(ListPage[tuple[str, ...]]):
    """Enter ticks or unticks a complaint; at least one stays. Dismissed with them, ``None`` to leave all as it was."""

    place = actions.COMPLAINTS
    TITLE = "The door › Complaint"
    hint = "Type a word of it"

    def __init__(self, symptoms: tuple[str, ...]) -> None:
        super().__init__()
        self.ask = f"Enter ticks or unticks; {key_for('go-on')} keeps what is ticked."
        self._ticked = dict.fromkeys(symptoms)

    def rows(self) -> list[Row]:
        return [self._with_tick(row) for row in symptom_rows(self.desk.trees)]

    def found(self, typed: str) -> list[Row]:
        return [self._with_tick(row) for row in meant_rows(self.desk.trees, typed)]

    def _with_tick(self, row: Row) -> Row:
        if not row.id:
            return row
        tick = "[x] " if all(each in self._ticked for each in _ids(row.id)) else "[ ] "
        return Row(row.id, assemble(tick, row.shown), row.words, row.under)

    def picked(self, identity: str) -> None:
        new = [each for each in _ids(identity) if each not in self._ticked]
        self._ticked |= dict.fromkeys(new)
        for each in () if new else _ids(identity):
            if len(self._ticked) > 1:
                del self._ticked[each]
        self.pick_list.show(self.rows())

    def action_keep_ticked(self) -> None:
        self.dismiss(tuple(self._ticked))


def _ids(row: str) -> list[str]:
    """The complaints of a row: one, or several to be taken together."""
    return row.removeprefix("symptom:").split("+")
