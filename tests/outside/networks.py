"""A Bayesian network of pathology as a pack: the part of it in which a finding depends on the disease alone."""

from __future__ import annotations

import gzip
import importlib.util
import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import yaml

from diagnose.knowledge.load import compile_trees
from diagnose.knowledge.model import Trees
from diagnose.knowledge.problems import Problems
from diagnose.reasoning.situation import Array


@dataclass(frozen=True)
class Network:
    """``prior`` is [diseases]; of each finding, P(value | disease) [values, diseases]."""

    prior: Array
    findings: dict[str, Array]

    def without(self, disease: int) -> Network:
        kept = [i for i in range(len(self.prior)) if i != disease]
        prior = self.prior[kept] / self.prior[kept].sum()
        return Network(prior, {name: table[:, kept] for name, table in self.findings.items()})


def read_pathfinder() -> Network:
    """Heckerman's network of lymph-node pathology, 63 diseases, as the wheel of ``pgmpy`` carries it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from pgmpy.readwrite import BIFReader

        spec = importlib.util.find_spec("pgmpy")
        assert spec and spec.submodule_search_locations
        file = Path(spec.submodule_search_locations[0]) / "utils/example_models/pathfinder.bif.gz"
        reader = BIFReader(string=gzip.open(file, "rt").read())
        prior = np.asarray(reader.variable_cpds["Fault"], dtype=float).ravel()
        parents = reader.variable_parents
        found = {
            name: np.asarray(reader.variable_cpds[name], dtype=float)
            for name in reader.variable_names
            if list(parents[name]) == ["Fault"]
        }
    findings = {name: table.reshape(-1, len(prior)) for name, table in found.items()}
    return Network(prior / prior.sum(), {name: table / table.sum(axis=0) for name, table in findings.items()})


def as_pack(network: Network, unlisted: float = 0.0, slip: float = 0.0) -> Trees:
    """A cause for each disease, a question for each finding; what is usual is what the diseases show on the average."""
    causes = {
        f"d{index}": {
            "title": f"Disease {index}",
            "base": float(base),
            "signs": {name: _shares(table[:, index]) for name, table in network.findings.items()},
        }
        for index, base in enumerate(network.prior)
    }
    checks = {
        name: {
            "ask": f"{name}?",
            "answers": [f"v{value}" for value in range(len(table))],
            "healthy": _shares(table @ network.prior),
            "minutes": 1,
        }
        for name, table in network.findings.items()
    }
    pack = {
        "source": "open data",
        "exclusive": "yes",
        "costs": {"unlisted": unlisted, "slip": slip},
        "symptoms": {"node": {"title": "Which is it?", "caller": "Which is it?", "causes": dict.fromkeys(causes, 1)}},
        "causes": causes,
        "checks": checks,
    }
    problems = Problems()
    text = yaml.dump(pack, sort_keys=False)
    trees = compile_trees({"pack.yaml": text}, f"network-{hash(text)}", problems)
    assert trees is not None, [str(problem) for problem in problems][:5]
    return trees


def _shares(column: Array) -> dict[str, float]:
    return {f"v{value}": min(float(share), 1.0) for value, share in enumerate(column)}
