"""Reading a folder of scenarios: every fault at its line, as with trees.

``load_library`` is what practice uses: it refuses what cannot be played. ``check_library`` looks further, for what
makes a scenario poor: a first screen that gives the fault away, a fault nobody here may mend, words that tell.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from diagnose.calls.answering import AnswerError, understand
from diagnose.knowledge.entries import read_entry
from diagnose.knowledge.files import file_text
from diagnose.knowledge.marked_yaml import Marked, read_marked
from diagnose.knowledge.model import Trees, applies
from diagnose.knowledge.problems import Place, Problems, TreeError, did_you_mean
from diagnose.practice.mishaps import Consequences, DoorKind, Mishap, Places, WithoutPower
from diagnose.practice.scenario import (
    Scenario,
    VeilError,
    belief_in,
    first_screen,
    level_of,
    opened_by,
    remedies_for,
    unveil,
)
from diagnose.shipped import shipped_folder

# A first screen that makes its cause this likely leaves nothing to find.
GIVEN_AWAY = 0.95
_SHARED = "shared"
_SHARED_KEYS = ("source", "mishaps", "without-power", "prepares", "sites", "doors", "kinds")


class ScenarioError(TreeError):
    """Scenarios cannot be used; ``str`` gives every fault, a line each."""


@dataclass(frozen=True)
class Library:
    """Every scenario of a folder by id, and what its ``shared`` folder says."""

    scenarios: dict[str, Scenario] = field(default_factory=dict)
    consequences: Consequences = field(default_factory=Consequences)
    places: Places = field(default_factory=Places)


class Draft(NamedTuple):
    """A scenario as it stands in its file; ``veiled`` where its secret is."""

    scenario: Scenario
    marked: Marked
    veiled: bool


def load_library(trees: Trees, folder: str | Path | None = None) -> Library:
    """The scenarios of ``folder``, by default those that ship. Raises ``ScenarioError`` with every fault found."""
    problems = Problems()
    library, _ = read_library(trees, folder, problems)
    if problems.errors:
        raise ScenarioError(problems.errors)
    return library


def check_library(trees: Trees, folder: str | Path | None = None) -> tuple[Library, Problems]:
    """What can be read of a folder, and everything that is wrong or poor in it."""
    problems = Problems()
    library, drafts = read_library(trees, folder, problems)
    if not problems.errors:
        for draft in drafts:
            _look_over(trees, draft, problems, library.consequences)
    return library, problems


def read_library(trees: Trees, folder: str | Path | None, problems: Problems) -> tuple[Library, list[Draft]]:
    """What can be read of a folder; faults go to ``problems``."""
    root = Path(folder) if folder is not None else shipped_folder("scenarios")
    if not root.is_dir():
        place = Place(str(root), 1)
        problems.error(place, "There is no folder of scenarios here.", "Give one with *.yaml files.", "folder")
        return Library(), []
    drafts = [draft for path in sorted(root.glob("*.yaml")) if (draft := read_scenario(trees, path, problems))]
    if not drafts and not problems.errors:
        problems.error(Place(str(root), 1), "This folder holds no scenarios.", "Add *.yaml files.", "folder")
    shared = [
        marked
        for path in sorted((root / _SHARED).glob("*.yaml"))
        if (marked := _read_file(path, f"{_SHARED}/{path.name}", problems)) is not None
    ]
    reader = _Shared(trees, problems)
    for marked in shared:
        reader.read(marked)
    library = Library({draft.scenario.id: draft.scenario for draft in drafts}, reader.consequences, reader.places)
    return library, drafts


def read_scenario(trees: Trees, path: Path, problems: Problems) -> Draft | None:
    """One scenario's file, its secret unveiled; ``None`` where it cannot be read."""
    marked = _read_file(path, path.name, problems)
    if marked is None:
        return None
    before = len(problems.errors)
    given: dict[str, Any] = {"id": path.stem}
    scenario = read_entry(Scenario, marked, (), problems, given)
    if scenario is None:
        return None
    veiled = bool(scenario.hidden)
    secret = scenario.secret
    if veiled and (scenario.causes or scenario.findings or scenario.teaches):
        mend = "Take what stands open of it out, or 'hidden'."
        problems.error(marked.place("hidden"), "The secret stands here twice, veiled and open.", mend, "veil")
    elif veiled:
        try:
            secret = unveil(scenario.id, scenario.hidden)
        except VeilError as error:
            problems.error(marked.place("hidden"), "The veiled text cannot be read.", str(error), "veil")
    scenario = msgspec.structs.replace(
        scenario,
        facts=_as_the_trees_have_them(trees, scenario),
        causes=secret.causes,
        findings=secret.findings,
        wrong=secret.wrong,
        sights=secret.sights,
        teaches=secret.teaches,
    )
    draft = Draft(scenario, marked, veiled)
    if len(problems.errors) == before:
        _refer(trees, draft, problems)
    return draft if len(problems.errors) == before else None


def _read_file(path: Path, name: str, problems: Problems) -> Marked | None:
    text = file_text(path, name, problems, "Save it as UTF-8.", "yaml")
    marked = read_marked(text, name, problems) if text is not None else None
    if marked is not None and not isinstance(marked.value, dict):
        problems.error(marked.place(), "A scenario is a list of 'key: value'.", "Look at one that works.", "shape")
        return None
    return marked


def _as_the_trees_have_them(trees: Trees, scenario: Scenario) -> dict[str, str | tuple[str, ...]]:
    """Facts of which several may hold as tuples, the others as text, however they were written."""
    facts: dict[str, str | tuple[str, ...]] = {}
    for name, value in scenario.facts.items():
        many = name in trees.facts and trees.facts[name].many == "yes"
        facts[name] = (value,) if many and isinstance(value, str) else value
    return facts


# --- what must hold -----------------------------------------------------------------------------------------------


def _refer(trees: Trees, draft: Draft, problems: Problems) -> None:
    """Everything named is known, and can be so on this door."""
    scenario, marked, veiled = draft

    def fault(path: tuple[str | int, ...], wrong: str, mend: str, rule: str = "unknown-id") -> None:
        problems.error(marked.place(*path), wrong, mend, rule)

    for key, known in (("symptoms", trees.symptoms), ("people", trees.people)):
        for index, name in enumerate(getattr(scenario, key)):
            if name not in known:
                fault((key, index), f"'{name}' is not among the {key}.", did_you_mean(name, known))
    if scenario.walk:
        _refer_walk(trees, scenario, veiled, fault)
    elif not scenario.symptoms:
        fault(("symptoms",), "Nothing is complained of.", "Name a complaint.", "shape")
    for name, value in scenario.facts.items():
        if name not in trees.facts:
            fault(("facts", name), f"'{name}' is no fact.", did_you_mean(name, trees.facts))
            continue
        fact = trees.facts[name]
        if fact.many == "no" and not isinstance(value, str):
            fault(("facts", name), f"Only one answer to '{name}' can hold.", "Write one of them.", "shape")
        for each in (value,) if isinstance(value, str) else value:
            if each not in fact.answers:
                fault(("facts", name), f"'{each}' is no answer to '{name}'.", did_you_mean(each, fact.answers))
    for key in ("caller", "findings"):
        hidden = key == "findings" and veiled
        for name, text in getattr(scenario, key).items():
            place = ("hidden",) if hidden else (key, name)
            _refer_answer(trees, scenario, name, text, lambda w, m, r, p=place: fault(p, w, m, r))
    if not scenario.causes:
        fault(("hidden",) if veiled else ("causes",), "No cause is named.", "Write 'causes: [cause-id]'.", "shape")
    for index, name in enumerate(scenario.causes):
        place = ("hidden",) if veiled else ("causes", index)
        if name not in trees.causes:
            fault(place, f"'{name}' is no cause.", did_you_mean(name, trees.causes))
        elif not applies(trees.causes[name].applies, scenario.facts):
            fault(place, f"'{name}' cannot be in such a door.", "Change the facts, or the cause.", "applies")
        elif not scenario.walk and not any(
            name in trees.symptoms[s].causes for s in scenario.symptoms if s in trees.symptoms
        ):
            fault(place, f"'{name}' does not bring this complaint about.", "Change one of the two.", "applies")


def _refer_walk(trees: Trees, scenario: Scenario, veiled: bool, fault: Any) -> None:
    """The walk is known, and its wrong work shows at jobs of it that open a complaint which leads to it."""
    walk = trees.walks.get(scenario.walk)
    if walk is None:
        fault(("walk",), f"'{scenario.walk}' is no walk.", did_you_mean(scenario.walk, trees.walks))
        return
    if scenario.symptoms:
        fault(("symptoms",), "A walk begins without a complaint.", "Take 'symptoms' or 'walk' out.", "shape")
    jobs = {job: trees.jobs[job] for job in walk.jobs if applies(trees.jobs[job].applies, scenario.facts)}
    shown = {job: cause for cause, wrong in scenario.wrong.items() for job in wrong.sights}

    def place(*path: str) -> tuple[str, ...]:
        return ("hidden",) if veiled else path

    for key, job in [*(("wrong", job) for job in shown), *(("sights", job) for job in scenario.sights)]:
        if job not in jobs:
            fault(place(key), f"'{job}' is no job of that walk on such a door.", did_you_mean(job, jobs))
        elif key == "sights" and job in shown:
            fault(place(key, job), f"'{job}' shows what is wrong, and what is right.", "Write one of them.", "shape")
        elif key == "wrong" and not opened_by(trees, shown[job], job):
            wrong = f"'{job}' opens no complaint that leads to '{shown[job]}'."
            fault(place(key), wrong, "Give the job one under 'raises', or choose another.", "applies")
    if set(scenario.wrong) != set(scenario.causes) or not all(each.sights for each in scenario.wrong.values()):
        mend = "Write under 'wrong', for each cause, at which jobs it is seen and what comes of it."
        fault(place("wrong"), "The causes and the wrong work are not the same.", mend, "shape")


def _refer_answer(trees: Trees, scenario: Scenario, name: str, text: str, fault: Any) -> None:
    check = trees.checks.get(name)
    if check is None:
        fault(f"'{name}' is no check.", did_you_mean(name, trees.checks), "unknown-id")
        return
    if not applies(check.applies, scenario.facts):
        fault(f"'{name}' is not for such a door.", "Change the facts, or leave it out.", "applies")
    try:
        understand(check, text)
    except AnswerError as error:
        fault(str(error), "", "unknown-id")


# --- what makes it good -------------------------------------------------------------------------------------------


def _end_of_best_way(trees: Trees, scenario: Scenario, consequences: Consequences) -> str:
    from diagnose.practice.bots import carry_through
    from diagnose.practice.session import Session
    from diagnose.practice.simulated import planned

    return carry_through(Session(trees, scenario, 0, consequences), planned).call.state.outcome or "open"


def _look_over(trees: Trees, draft: Draft, problems: Problems, consequences: Consequences) -> None:
    scenario, marked, veiled = draft
    secret = ("hidden",) if veiled else ("causes",)
    if not veiled:
        mend = f"Veil it: diagnose scenario veil {scenario.id}.yaml"
        problems.warn(marked.place("causes"), "The cause stands open for everybody to read.", mend, "open-secret")
    if not scenario.teaches:
        problems.error(marked.place(*secret), "It teaches nothing.", "Say in 'teaches' what is learnt.", "teaches")
    for fact in trees.facts.values():
        if fact.first == "yes" and fact.id not in scenario.facts:
            wrong = f"'{fact.id}' is not said of the door."
            problems.error(marked.place("facts"), wrong, f"Write one of: {', '.join(fact.answers)}.", "facts")
    for cause in scenario.causes:
        remedies = [trees.remedies[name] for name in remedies_for(trees, cause, scenario)]
        if not remedies:
            problems.error(marked.place(*secret), f"Nothing repairs '{cause}' on this door.", "Choose another.", "mend")
    for key, words in _telling_words(trees, scenario):
        wrong = f"'{words}' says what is wrong with the door."
        problems.error(marked.place(key), wrong, "Say only what a caller would know.", "tells")
    if scenario.walk:
        end = _end_of_best_way(trees, draft.scenario, consequences)
        if end != trees.walks[scenario.walk].ends:
            wrong = f"The best way through ends with the door {end}."
            problems.error(marked.place(*secret), wrong, "Choose wrong work that can be found and put right.", "finish")
        return
    call = first_screen(trees, scenario)
    believed = belief_in(call, scenario.causes)
    if believed >= GIVEN_AWAY:
        wrong = f"The first screen alone makes it {100 * believed:.0f} % likely."
        problems.error(marked.place(*secret), wrong, "Let the caller say less.", "given-away")
    level = level_of(trees, scenario)
    if level != scenario.level:
        wrong = f"By what the first screen tells it is {level}."
        problems.warn(marked.place("level"), wrong, f"Write 'level: {level}', or say why not.", "level")


def _telling_words(trees: Trees, scenario: Scenario) -> Iterator[tuple[str, str]]:
    """Where what can be read names a cause: its title or its id, or all the words of its title that mean anything."""
    shown = {"title": scenario.title, "story": scenario.story, "door": scenario.door, "site": scenario.site}
    for cause in scenario.causes:
        title = trees.causes[cause].title
        meaning = set(_words(title))
        for key, text in {**shown, "": scenario.id.replace("-", " ")}.items():
            folded = text.casefold()
            if title.casefold() in folded or cause.replace("-", " ") in folded:
                yield key, title
            elif len(meaning) > 1 and meaning <= set(_words(text)):
                yield key, " ".join(sorted(meaning))


def _words(text: str) -> list[str]:
    return [word for word in re.findall(r"[a-z]+", text.casefold()) if len(word) > 3]


# --- what all scenarios share -------------------------------------------------------------------------------------


class _Shared:
    """Reads the ``shared`` folder, one file after the other."""

    def __init__(self, trees: Trees, problems: Problems) -> None:
        self._trees = trees
        self._problems = problems
        self._mishaps: list[Mishap] = []
        self._without_power = WithoutPower()
        self._prepares: tuple[str, ...] = ()
        self._names: dict[str, tuple[str, ...]] = {}
        self._kinds: dict[str, DoorKind] = {}

    @property
    def consequences(self) -> Consequences:
        return Consequences(tuple(self._mishaps), self._without_power, self._prepares)

    @property
    def places(self) -> Places:
        return Places(**self._names, kinds=self._kinds)

    def read(self, marked: Marked) -> None:
        written: dict[str, Any] = marked.value
        for key in written:
            if key not in _SHARED_KEYS:
                mend = did_you_mean(key, _SHARED_KEYS)
                self._problems.error(marked.place(key), f"'{key}' is no key here.", mend, "unknown-key")
        for key in ("sites", "doors", "prepares"):
            if key in written and not isinstance(written[key], list):
                self._problems.error(marked.place(key), f"'{key}' is a list.", f"Write '{key}: [...]'.", "shape")
            elif key in written:
                names = tuple(str(each) for each in written[key])
                if key == "prepares":
                    self._know(marked, (key,), names, "checks")
                    self._prepares += names
                else:
                    self._names[key] = (*self._names.get(key, ()), *names)
        if "without-power" in written:
            read = read_entry(WithoutPower, marked, ("without-power",), self._problems)
            self._without_power = read or self._without_power
        source = {"source": str(written.get("source", "estimate"))}
        for identity in written.get("mishaps") or {}:
            path = ("mishaps", identity)
            mishap = read_entry(Mishap, marked, path, self._problems, {"id": identity, **source})
            if mishap is not None:
                self._know(marked, (*path, "cautions"), mishap.cautions, "cautions")
                self._know(marked, (*path, "breaks"), mishap.breaks, "causes")
                self._know(marked, (*path, "missing"), mishap.missing, "checks")
                self._mishaps.append(mishap)
        for identity in written.get("kinds") or {}:
            path = ("kinds", identity)
            kind = read_entry(DoorKind, marked, path, self._problems, {"id": identity, **source})
            if kind is not None:
                self._know_facts(marked, path, kind)
                self._kinds[identity] = kind

    def _know_facts(self, marked: Marked, path: tuple[str, ...], kind: DoorKind) -> None:
        facts = self._trees.facts
        for key, conditions in (("facts", kind.facts), ("has", kind.has), ("may-have", kind.may_have)):
            for name, values in conditions.items():
                place = marked.place(*path, key, name)
                if name not in facts:
                    self._problems.error(place, f"'{name}' is no fact.", did_you_mean(name, facts), "unknown-id")
                    continue
                for value in values:
                    if value not in facts[name].answers:
                        wrong, mend = f"'{value}' is no answer to '{name}'.", did_you_mean(value, facts[name].answers)
                        self._problems.error(place, wrong, mend, "unknown-id")

    def _know(self, marked: Marked, path: tuple[str | int, ...], names: tuple[str, ...], kind: str) -> None:
        known = getattr(self._trees, kind)
        for index, name in enumerate(names):
            if name not in known:
                wrong, mend = f"'{name}' is not among the {kind}.", did_you_mean(name, known)
                self._problems.error(marked.place(*path, index), wrong, mend, "unknown-id")
