"""The trade's formulas: pick one, type its inputs, read the result and its working as one types."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from textual import on, work
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Input, Label, Static

from diagnose.formulas import Formula, FormulaError, find
from diagnose.formulas import Input as Wanted
from diagnose.formulas.registry import Value
from diagnose.sitting.calculating import by_subject, read_input, source_of, still_wanted
from diagnose.tui import actions
from diagnose.tui.saver import InHand
from diagnose.tui.screens.page import ListPage, Page
from diagnose.tui.text import assemble, plain, printable, stack
from diagnose.tui.widgets.line import Line
from diagnose.tui.widgets.pick_list import Row, heading


class Calculator(ListPage[None]):
    TITLE = "Calculator"
    hint = "What is to be worked out? Type a word of it."

    def rows(self) -> list[Row]:
        return formula_rows()

    def picked(self, identity: str) -> object:
        return self.app.push_screen(FormulaPage(find(identity), self.desk.in_hand))


def formula_rows() -> list[Row]:
    rows: list[Row] = []
    for subject, formulas in by_subject():
        rows.append(heading(subject[:1].upper() + subject[1:]))
        for formula in formulas:
            words = " ".join((formula.name, *(item.title for item in formula.inputs)))
            rows.append(Row(formula.name, plain(formula.title), words, subject))
    return rows


class FormulaPage(Page[None]):
    """The inputs of one formula by name with their units; the result below changes with every letter typed."""

    place = actions.CALCULATOR

    def __init__(self, formula: Formula, in_hand: InHand | None) -> None:
        super().__init__(f"Calculator › {formula.title}")
        self.formula = formula
        self._in_hand = in_hand
        self._working = ""

    def body(self) -> Iterable[Widget]:
        with VerticalScroll(id="inputs", can_focus=False):
            for item in self.formula.inputs:
                with Horizontal(classes="field"):
                    yield Label(plain(input_title(item)), markup=False)
                    yield Input(placeholder=printable(input_range(item)), id=f"input-{item.name}", max_length=300)
        yield VerticalScroll(Static(id="result", markup=False), id="results", can_focus=False)
        yield Line(id="told")

    def on_mount(self) -> None:
        self.query(Input).first().focus()
        self._work()

    @on(Input.Submitted)
    def _entered(self) -> None:
        self.focus_next(Input)

    def _typed(self) -> dict[str, str]:
        fields = {item.name: self.query_one(f"#input-{item.name}", Input).value for item in self.formula.inputs}
        return {name: text for name, text in fields.items() if text.strip()}

    @on(Input.Changed)
    def _work(self) -> None:
        self._working, shown = worked_out(self.formula, self._typed())
        self.query_one("#result", Static).update(shown)

    @work(exclusive=True)
    async def action_keep(self) -> None:
        in_hand = self._in_hand
        if in_hand is None:
            self.tell("There is no call to note it in.")
        elif not self._working:
            self.tell("There is no result yet.")
        else:
            note = f"{self.formula.title}: {self._working}"
            wrong = await self.desk.attempt(in_hand.saver, lambda: in_hand.call.note(note))
            self.tell(wrong or "Noted in the call.")


# Units as a formula names them, and as they are written on a meter.
_SIGNS = {"degC": "°C", "degF": "°F", "percent": "%", "ohm": "Ω", "uF": "µF", "mm^2": "mm²", "deg": "°"}


def unit_sign(unit: str) -> str:
    return _SIGNS.get(unit, unit.replace("*", "·").replace("ohm", "Ω").replace("degC", "°C"))


def input_title(item: Wanted) -> str:
    unit = f" [{unit_sign(item.unit)}]" if item.unit else ""
    default = f" (else {item.default:g})" if isinstance(item.default, (int, float)) else ""
    default = default or (f" (else {item.default})" if item.default else " (may be left out)" if item.optional else "")
    return f"{item.title}{unit}{default}"


def input_range(item: Wanted) -> str:
    """The limits of an input in words, or its choices."""
    return item.range() if item.choices else f"{item.range().removesuffix(item.unit)}{unit_sign(item.unit)}"


def worked_out(formula: Formula, typed: Mapping[str, str]) -> tuple[str, Content]:
    """The working, empty while there is no result, and what to show."""
    wrong: list[str] = []
    values: dict[str, Value] = {}
    for item in formula.inputs:
        if item.name in typed:
            try:
                values[item.name] = read_input(item, typed[item.name])
            except ValueError as error:
                wrong.append(str(error))
    missing = [item.title for item in still_wanted(formula, typed)]
    about = [
        plain(f"Holds for: {formula.limits}", "$text-muted"),
        plain(f"Source: {source_of(formula)}", "$text-muted"),
    ]
    if wrong or missing:
        lines = [plain(f"✗ {sentence}", "bold") for sentence in wrong]
        if missing:
            lines.append(plain(f"Still needed: {', '.join(missing)}."))
        return "", stack([*lines, *about])
    try:
        result = formula.evaluate(values)
    except FormulaError as error:
        return "", stack([plain(f"✗ {error}", "bold"), *about])
    lines = []
    for output in formula.outputs:
        value = result.values[output.name]
        shown = value if isinstance(value, str) else f"{value:.5g}"
        lines.append(assemble(f"{output.title}  ", (f"{shown} {unit_sign(output.unit)}".rstrip(), "bold $text-accent")))
    lines.append(assemble(("Working  ", "bold"), result.working))
    return result.working, stack([*lines, *about])
