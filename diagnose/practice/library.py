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

from diagnose.knowledge.entries import read_entry
from diagnose.knowledge.files import file_text
from diagnose.knowledge.fitting import can_be
from diagnose.knowledge.marked_yaml import Marked, read_marked
from diagnose.knowledge.model import Trees, applies
from diagnose.knowledge.problems import Place, Problems, TreeError, did_you_mean
from diagnose.knowledge.references import fact_faults
from diagnose.practice.mishaps import Consequences, DoorKind, Mishap, Places, WithoutPower
from diagnose.practice.referring import as_the_trees_have_them, faults_of_answer, faults_of_facts
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
    scenarios = {draft.scenario.id: draft.scenario for draft in drafts}
    return Library(scenarios, *_read_shared(trees, root / "shared", problems)), drafts


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
    facts = as_the_trees_have_them(trees, scenario.facts)
    scenario = msgspec.structs.replace(scenario, facts=facts, **msgspec.structs.asdict(secret))
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
    for name, wrong, mend, rule in faults_of_facts(trees, scenario.facts):
        fault(("facts", name), wrong, mend, rule)
    for key in ("caller", "findings"):
        hidden = key == "findings" and veiled
        for name, text in getattr(scenario, key).items():
            for wrong, mend, rule in faults_of_answer(trees, name, text, scenario.facts):
                fault(("hidden",) if hidden else (key, name), wrong, mend, rule)
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


class _Shared(msgspec.Struct, frozen=True, kw_only=True):
    """What a file of the ``shared`` folder may hold."""

    source: str = "estimate"
    mishaps: dict[str, Mishap] = {}
    without_power: WithoutPower | None = None
    prepares: tuple[str, ...] = ()
    sites: tuple[str, ...] = ()
    doors: tuple[str, ...] = ()
    kinds: dict[str, DoorKind] = {}


def _read_shared(trees: Trees, folder: Path, problems: Problems) -> tuple[Consequences, Places]:
    """The ``shared`` folder's files together."""
    whole = _Shared()
    for path in sorted(folder.glob("*.yaml")):
        marked = _read_file(path, f"{folder.name}/{path.name}", problems)
        shared = read_entry(_Shared, marked, (), problems) if marked is not None else None
        if marked is None or shared is None:
            continue
        _refer_shared(trees, marked, shared, problems)
        whole = _Shared(
            mishaps={**whole.mishaps, **shared.mishaps},
            without_power=shared.without_power or whole.without_power,
            prepares=(*whole.prepares, *shared.prepares),
            sites=(*whole.sites, *shared.sites),
            doors=(*whole.doors, *shared.doors),
            kinds={**whole.kinds, **shared.kinds},
        )
    named = {key: names for key, names in (("sites", whole.sites), ("doors", whole.doors)) if names}
    mishaps, without_power = tuple(whole.mishaps.values()), whole.without_power or WithoutPower()
    return Consequences(mishaps, without_power, whole.prepares), Places(**named, kinds=whole.kinds)


def _refer_shared(trees: Trees, marked: Marked, shared: _Shared, problems: Problems) -> None:
    """Everything named is known."""
    named: list[tuple[tuple[str, ...], tuple[str, ...], str]] = [(("prepares",), shared.prepares, "checks")]
    for each in shared.mishaps.values():
        kinds = (("cautions", each.cautions, "cautions"), ("breaks", each.breaks, "causes"))
        for key, names, kind in (*kinds, ("missing", each.missing, "checks")):
            named.append((("mishaps", each.id, key), names, kind))
    for path, names, kind in named:
        for index, name in enumerate(names):
            if name not in getattr(trees, kind):
                wrong, mend = f"'{name}' is not among the {kind}.", did_you_mean(name, getattr(trees, kind))
                problems.error(marked.place(*path, index), wrong, mend, "unknown-id")
    for door in shared.kinds.values():
        before = len(problems.errors)
        for key, conditions in (("facts", door.facts), ("has", door.has), ("may-have", door.may_have)):
            for name, wrong, mend in fact_faults(trees.facts, conditions):
                problems.error(marked.place("kinds", door.id, key, name), wrong, mend, "unknown-id")
        if len(problems.errors) > before:
            continue
        devices = [("has", door.has), ("may-have", door.may_have)]
        single = [(key, name, each) for key, said in devices for name, values in said.items() for each in values]
        for path, conditions in (
            (("facts",), door.facts),
            *(((key, name), {**door.facts, name: (each,)}) for key, name, each in single),
        ):
            if not can_be(trees.facts, conditions):
                wrong = "No door can be so, by 'applies' and 'goes-with' of the facts in the trees."
                problems.error(marked.place("kinds", door.id, *path), wrong, "Change one of its facts.", "together")
