"""What goes down a chain of functions, against the outside: a circuit of model-based diagnosis; half-splitting.

The circuit is the polybox of de Kleer & Williams, *Diagnosing Multiple Faults*, Artificial Intelligence 32 (1987):
three multipliers feed two adders. Reference: pgmpy's exact ``VariableElimination`` on the network that says when each
value is right, with one part broken. That a chain of n equal links is searched in ⌈log₂ n⌉ looks is in any textbook.
"""

from __future__ import annotations

import itertools
import math
import warnings
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pytest
import yaml

from diagnose import Call
from diagnose.knowledge.functions import chain_of
from diagnose.knowledge.load import compile_trees
from diagnose.knowledge.model import Trees
from diagnose.knowledge.problems import Problems

# What each value of the circuit is made from, and how often the part that makes it breaks, of all that break.
Needs = Mapping[str, Sequence[str]]
POLYBOX: Needs = {"x": (), "y": (), "z": (), "f": ("x", "y"), "g": ("y", "z")}
RATES = {"x": 0.10, "y": 0.25, "z": 0.05, "f": 0.20, "g": 0.40}
COMPLAINTS: dict[str, dict[str, Any]] = {
    "f-wrong": {"lacks": {"f": "lost"}},
    "g-wrong": {"lacks": {"g": "lost"}},
    "f-wrong-g-right": {"lacks": {"f": "lost"}, "keeps": ["g"]},
}


def compiled(pack: Mapping[str, Any]) -> Trees:
    problems, text = Problems(), yaml.dump(dict(pack), sort_keys=False)
    trees = compile_trees({"pack.yaml": text}, f"chain-{hash(text)}", problems)
    assert trees is not None, [str(problem) for problem in problems]
    return trees


def chain_pack(needs: Needs, rates: Mapping[str, float], complaints: Mapping[str, Any]) -> Trees:
    """A function and a look for each value, and a cause that takes it away: the part that makes it is broken.

    No complaint names a cause, and a look is wrong where the functions say that its value is lost with the part.
    """
    pack: dict[str, Any] = {
        "source": "open data",
        "exclusive": "yes",
        "costs": {"unlisted": 0.0, "slip": 0.0},
        "functions": {value: {"title": f"{value} is right", "needs": list(made)} for value, made in needs.items()},
        "symptoms": {name: {"title": name, "caller": name, "causes": {}, **each} for name, each in complaints.items()},
        "causes": {
            f"part-{value}": {"title": f"Part of {value}", "base": rates[value], "takes": {value: "lost"}}
            for value in needs
        },
        "checks": {
            f"look-{value}": {
                "ask": f"Is {value} right?",
                "answers": ["right", "wrong"],
                "healthy": {"right": 1.0, "wrong": 0.0},
                "minutes": 1,
                "shows": [value],
            }
            for value in needs
        },
    }
    unsigned = compiled(pack)
    chain = chain_of(unsigned)
    for name, cause in unsigned.causes.items():
        lost = {f"look-{value}": {"right": 0.0, "wrong": 1.0} for value in sorted(chain.lost_by(cause))}
        pack["causes"][name]["signs"] = lost
    return compiled(pack)


class Exactly:
    """The circuit as a network: one part is broken, and a value is right if its part and all it is made from are."""

    def __init__(self, needs: Needs, rates: Mapping[str, float]) -> None:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            from pgmpy.factors.discrete import TabularCPD
            from pgmpy.inference import VariableElimination
            from pgmpy.models import DiscreteBayesianNetwork
        self.parts = list(needs)
        edges = [(made, value) for value in needs for made in ("broken", *needs[value])]
        network = DiscreteBayesianNetwork(edges)
        total = sum(rates.values())
        network.add_cpds(TabularCPD("broken", len(needs), [[rates[part] / total] for part in needs]))
        for value, made in needs.items():
            wrong = [
                float(self.parts[combination[0]] == value or any(combination[1:]))
                for combination in itertools.product(range(len(needs)), *([0, 1] for _ in made))
            ]
            sizes = [len(needs), *(2 for _ in made)]
            network.add_cpds(TabularCPD(value, 2, [[1 - w for w in wrong], wrong], ["broken", *made], sizes))
        network.check_model()
        self._solver = VariableElimination(network)

    def __call__(self, wrong: Mapping[str, bool]) -> dict[str, float]:
        evidence = {value: int(is_wrong) for value, is_wrong in wrong.items()}
        posterior = self._solver.query(["broken"], evidence=evidence, show_progress=False)
        return dict(zip(self.parts, np.asarray(posterior.values, dtype=float), strict=True))


def looks(needs: Needs, broken: str) -> dict[str, bool]:
    """Which values are wrong with a broken part, worked out from the circuit itself."""
    wrong: dict[str, bool] = {}
    for value, made in needs.items():
        wrong[value] = value == broken or any(wrong[each] for each in made)
    return wrong


def told(complaint: Mapping[str, Any]) -> dict[str, bool]:
    return {**dict.fromkeys(complaint["lacks"], True), **dict.fromkeys(complaint.get("keeps", ()), False)}


def some_of(looked: Sequence[str]) -> Iterator[tuple[str, ...]]:
    for count in range(len(looked) + 1):
        yield from itertools.combinations(looked, count)


@pytest.mark.parametrize("name", COMPLAINTS)
def test_what_goes_down_the_chain_is_what_exact_inference_finds(name: str) -> None:
    trees, exactly = chain_pack(POLYBOX, RATES, COMPLAINTS), Exactly(POLYBOX, RATES)
    known = told(COMPLAINTS[name])
    possible = [part for part in POLYBOX if known.items() <= looks(POLYBOX, part).items()]
    assert possible
    for broken in possible:
        for looked in some_of(tuple(POLYBOX)):
            seen = {value: looks(POLYBOX, broken)[value] for value in looked}
            call = Call(trees, symptoms=[name], goal="cause")
            for value, is_wrong in seen.items():
                call.answer(f"look-{value}", "wrong" if is_wrong else "right")
            found = {each.cause: each.probability for each in call.likely()}
            for part, probability in exactly({**known, **seen}).items():
                assert found.get(f"part-{part}", 0.0) == pytest.approx(probability, abs=1e-9), (broken, looked, part)


def test_the_suspects_are_the_single_faults_of_the_paper() -> None:
    """f is wrong and g is right: of single faults the paper leaves the first multiplier and the first adder."""
    call = Call(chain_pack(POLYBOX, RATES, COMPLAINTS), symptoms=["f-wrong-g-right"], goal="cause")
    assert {each.cause for each in call.likely() if each.cause != "unlisted"} == {"part-x", "part-f"}


@pytest.mark.parametrize("links", [4, 8, 16, 32])
def test_a_chain_of_equal_links_is_split_in_half(links: int) -> None:
    needs: dict[str, tuple[str, ...]] = {"link-1": ()}
    for number in range(2, links + 1):
        needs[f"link-{number}"] = (f"link-{number - 1}",)
    last = f"link-{links}"
    trees = chain_pack(needs, dict.fromkeys(needs, 1 / links), {"end-wrong": {"lacks": {last: "lost"}}})
    for broken in needs:
        wrong, asked = looks(needs, broken), []
        call = Call(trees, symptoms=["end-wrong"], goal="cause", sure=1.0)
        while (step := call.next_step()).kind == "check":
            asked.append(step.id)
            call.answer(step.id, "wrong" if wrong[step.id.removeprefix("look-")] else "right")
        assert (step.kind, step.id) == ("stop", "cause found") and call.likely()[0].cause == f"part-{broken}"
        assert len(asked) == math.ceil(math.log2(links)), (broken, asked)
