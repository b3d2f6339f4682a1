"""Every formula as data: what it takes, in which units, within which limits, and whose it is.

A formula is a plain function on plain floats with `@formula(...)` above it. The decorator is the one
gate: it refuses a value outside the limits before the arithmetic sees it, whoever calls, and it files
the formula under its name, so that a tree, a calculator on a screen or a shell can use any of them
without knowing a single one.

    find("voltage-drop").evaluate({"volts": 120, "amps": 6.2, "run": 95, "gauge": 14}).working
"""

from __future__ import annotations

import difflib
import functools
import importlib
import inspect
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from numbers import Real
from typing import Any, ParamSpec, TypeVar, get_args, get_type_hints

SUBJECTS = (
    "wire",
    "supply",
    "motor",
    "drive",
    "counterbalance",
    "limits",
    "photo_eyes",
    "radio",
    "door",
)
"""The modules of this package that register formulas, in the order a technician meets them."""

MOST_NUMBERS = 500
"""The longest list a `many` input takes: far beyond any afternoon's readings, short enough to be quick."""

Value = float | str | tuple[float, ...] | None
"""A value once read: a number, a word of the choices, a list of numbers, or nothing for an optional one."""

P = ParamSpec("P")
R = TypeVar("R")


class FormulaError(ValueError):
    """A name, word or value a formula cannot use. The message says what is wrong and what would be right."""


@dataclass(frozen=True)
class Input:
    """One thing a formula needs.

    `least` and `most` are the limits of validity, both allowed; `whole` refuses fractions, and
    `allowed` all but the numbers of a table. `choices` makes it a word instead of a number, `many` a list of
    numbers. It stands at a parameter of the function, whose name and default it takes: where that is None, it may be
    left out, and is `optional`.
    """

    unit: str
    title: str
    many: bool = False
    choices: tuple[str, ...] = ()
    least: float = -math.inf
    most: float = math.inf
    whole: bool = False
    allowed: tuple[float, ...] = ()
    name: str = ""
    default: float | str | None = None
    optional: bool = False

    def read(self, value: object) -> Value:
        """The value as the function wants it, from a number, a list, or the text of either.

        Raises FormulaError for a word that is not a choice, text that is not a number, or a number
        outside the limits.
        """
        if value is None and self.optional:
            return None
        if self.choices:
            return self._word(value)
        if self.many:
            return self._numbers(value)
        return self._number(value)

    def _word(self, value: object) -> str:
        word = str(value).strip()
        for choice in self.choices:
            if word.lower() == choice.lower():
                return choice
        raise FormulaError(f"{self.title} must be one of {', '.join(self.choices)}; got {word[:40]!r}.")

    def _numbers(self, value: object) -> tuple[float, ...]:
        if isinstance(value, str):
            value = value.replace(",", " ").split()
        if not isinstance(value, Sequence):
            value = [value]
        if not 1 <= len(value) <= MOST_NUMBERS:
            raise FormulaError(f"{self.title} takes 1 to {MOST_NUMBERS} numbers; got {len(value)}.")
        return tuple(self._number(each) for each in value)

    def _number(self, value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, (Real, str)):
            raise FormulaError(f"{self.title} must be a number{self._in_unit()}; got {str(value)[:40]!r}.")
        try:
            number = float(value)
        except (ValueError, OverflowError):
            raise FormulaError(f"{self.title} must be a number{self._in_unit()}; got {str(value)[:40]!r}.") from None
        if self.allowed and number not in self.allowed:
            raise FormulaError(f"{self.title} is {shown(number)}{self._unit()}: it must be one of {self.range()}.")
        if not self.least <= number <= self.most:  # false for nan too
            raise FormulaError(f"{self.title} is {shown(number)}{self._unit()}: it must be {self.range()}.")
        if self.whole and number != int(number):
            raise FormulaError(f"{self.title} must be a whole number; got {shown(number)}.")
        return number

    def _unit(self) -> str:
        return f" {self.unit}" if self.unit else ""

    def _in_unit(self) -> str:
        return f" in {self.unit}" if self.unit else ""

    def range(self) -> str:
        """The limits in words, as `0.1 to 600 V`, or what is allowed."""
        if self.choices:
            return ", ".join(self.choices)
        if self.allowed:
            return f"{', '.join(map(shown, self.allowed))}{self._unit()}"
        return f"{shown(self.least)} to {shown(self.most)}{self._unit()}"


@dataclass(frozen=True)
class Output:
    """One thing a formula gives: a number in `unit`, or a word where the unit is empty.

    It stands at what is returned: a float, or each field of a named tuple, whose name it takes.
    """

    unit: str
    title: str
    name: str = ""


@dataclass(frozen=True)
class Result:
    """What a formula gave, by output name, and its working in one line."""

    values: dict[str, float | str]
    working: str


Working = str | Callable[[Mapping[str, Any]], str]
"""A template over the names of inputs and outputs, or a function of the same names' values."""


@dataclass(frozen=True)
class Formula:
    """A formula and everything needed to offer it, ask for its inputs, and say where it comes from."""

    name: str
    title: str
    subject: str
    inputs: tuple[Input, ...]
    outputs: tuple[Output, ...]
    function: Callable[..., Any]
    working: Working
    source: str
    limits: str
    from_memory: bool

    def input(self, name: str) -> Input:
        """The input of that name; hyphens and underscores are the same. Raises FormulaError."""
        for each in self.inputs:
            if each.name == name.replace("-", "_"):
                return each
        raise FormulaError(_unknown("input", name, [each.name for each in self.inputs], f" of {self.name}"))

    def evaluate(self, values: Mapping[str, float | str | Sequence[float] | None]) -> Result:
        """Work the formula from named values, defaults filled in.

        Raises FormulaError, naming every missing or unknown input at once, or the first value that is
        out of range.
        """
        given = {self.input(name).name: value for name, value in values.items() if value is not None}
        missing = [
            f"{each.name} ({each.title}, {each.range()})"
            for each in self.inputs
            if each.name not in given and each.default is None and not each.optional
        ]
        if missing:
            raise FormulaError(f"{self.name} still needs {'; '.join(missing)}.")
        inputs = {each.name: each.read(given.get(each.name, each.default)) for each in self.inputs}
        answer = self.function(**inputs)
        named = answer._asdict() if hasattr(answer, "_asdict") else {self.outputs[0].name: answer}
        outputs = {name: value if isinstance(value, str) else float(value) for name, value in named.items()}
        return Result(outputs, self._work(inputs | outputs))

    def _work(self, values: Mapping[str, Any]) -> str:
        if isinstance(self.working, str):
            line = self.working.format_map({name: shown(value) for name, value in values.items()})
        else:
            line = self.working(values)
        return " ".join(line.split())


_registry: dict[str, Formula] = {}


def formula(
    *,
    title: str,
    working: Working,
    source: str,
    limits: str,
    from_memory: bool = False,
) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """File the function below under its own name, and hold every call of it to its inputs' limits.

    Units, source and limits are added to the docstring, so they are written once.
    """

    def register(function: Callable[P, R]) -> Callable[P, R]:
        name, signature = function.__name__.replace("_", "-"), inspect.signature(function)
        if name in _registry:
            raise TypeError(f"two formulas are called {name}")
        hints = get_type_hints(function, include_extras=True)
        inputs, outputs = _inputs(signature, hints), _outputs(hints["return"])

        @functools.wraps(function)
        def checked(*args: P.args, **kwargs: P.kwargs) -> R:
            bound = signature.bind(*args, **kwargs)
            bound.apply_defaults()
            read = {each.name: each.read(bound.arguments[each.name]) for each in inputs}
            try:
                answer = function(**read)  # type: ignore[call-arg, arg-type]
            except ArithmeticError:
                raise FormulaError(_no_answer(title)) from None
            parts = answer if isinstance(answer, tuple) else (answer,)
            if any(isinstance(part, float) and not math.isfinite(part) for part in parts):
                raise FormulaError(_no_answer(title))
            return answer

        checked.__doc__ = _document(function.__doc__ or title, inputs, outputs, source, limits)
        _registry[name] = Formula(
            name=name,
            title=title,
            subject=function.__module__.rpartition(".")[2].replace("_", " "),
            inputs=inputs,
            outputs=outputs,
            function=checked,
            working=working,
            source=source,
            limits=limits,
            from_memory=from_memory,
        )
        return checked

    return register


def find(name: str) -> Formula:
    """The formula of that name; hyphens and underscores are the same. Raises FormulaError, with a guess."""
    wanted = name.replace("_", "-")
    known = _by_name()
    if wanted not in known:
        raise FormulaError(_unknown("formula", name, list(known)))
    return known[wanted]


def all_formulas() -> tuple[Formula, ...]:
    """Every formula, by subject. The first call imports the subjects."""
    return tuple(_by_name().values())


@functools.cache
def _by_name() -> dict[str, Formula]:
    for subject in SUBJECTS:
        importlib.import_module(f".{subject}", __package__)
    order = [subject.replace("_", " ") for subject in SUBJECTS]
    return {each.name: each for each in sorted(_registry.values(), key=lambda each: order.index(each.subject))}


def shown(value: object, digits: int = 4) -> str:
    """A value as a person writes it: `digits` significant figures, no needless zeros, lists in brief."""
    if isinstance(value, (tuple, list)):
        if len(value) > 8:
            return f"{len(value)} readings"
        return ", ".join(shown(each, digits) for each in value)
    if not isinstance(value, Real):
        return "not given" if value is None else str(value)
    number = float(value)
    if number == 0 or not math.isfinite(number):
        return "0" if number == 0 else str(number)
    magnitude = math.floor(math.log10(abs(number)))
    if not -5 <= magnitude < 12:
        return f"{number:.{digits - 1}e}"
    text = f"{number:.{max(0, digits - 1 - magnitude)}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _inputs(signature: inspect.Signature, hints: Mapping[str, Any]) -> tuple[Input, ...]:
    """What stands at a function's parameters."""
    return tuple(
        replace(
            _noted(hints[name]),
            name=name,
            default=None if parameter.default is parameter.empty else parameter.default,
            optional=parameter.default is None,
        )
        for name, parameter in signature.parameters.items()
    )


def _outputs(returned: Any) -> tuple[Output, ...]:
    """What stands at a function's return, or at the fields of what it returns."""
    if not hasattr(returned, "_fields"):
        return (_noted(returned),)
    fields = get_type_hints(returned, include_extras=True)
    return tuple(replace(_noted(hint), name=name) for name, hint in fields.items())


def _noted(hint: Any) -> Any:
    """The ``Input`` or ``Output`` that an annotation carries."""
    return get_args(hint)[1]


def _no_answer(title: str) -> str:
    return f"{title}: these values together give no answer; check the units and the decimal points."


def _unknown(kind: str, name: str, known: list[str], where: str = "") -> str:
    near = difflib.get_close_matches(name.replace("-", "_"), known, n=3) or difflib.get_close_matches(
        name.replace("_", "-"), known, n=3
    )
    hint = f"did you mean {' or '.join(near)}?" if near else f"there are {', '.join(sorted(known))}."
    return f"There is no {kind} called {name[:40]!r}{where}: {hint}"


def _document(text: str, inputs: Sequence[Input], outputs: Sequence[Output], source: str, limits: str) -> str:
    takes = [f"    {each.name}: {each.title}, {each.range()}" for each in inputs]
    gives = [f"    {each.name}: {each.title}{', ' + each.unit if each.unit else ''}" for each in outputs]
    parts = ["Takes:", *takes, "Gives:", *gives, f"Limits: {limits}", f"Source: {source}"]
    return "\n".join([inspect.cleandoc(text), "", *parts, "Raises FormulaError outside these limits."])
