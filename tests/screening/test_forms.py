"""What leaves the program fits its published schema, checked by a validator that is not ours."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from diagnose.calls.call import Call
from diagnose.calls.doors import DoorRecord
from diagnose.calls.exchange import export_call
from diagnose.calls.store import Store
from diagnose.knowledge.model import Trees
from diagnose.screening.forms import FORMS, schema
from diagnose.screening.paper import sheet_data
from diagnose.screening.sheet import make_sheet

SCHEMAS = Path(__file__).parents[2] / "schemas"


def fits(form: str, data: Any) -> None:
    jsonschema.Draft202012Validator(json.loads(schema(form))).validate(json.loads(json.dumps(data)))


@pytest.mark.parametrize("form", FORMS)
def test_the_files_are_what_the_types_say(form: str) -> None:
    assert (SCHEMAS / f"{form}.schema.json").read_text(encoding="utf-8") == schema(form)
    jsonschema.Draft202012Validator.check_schema(json.loads(schema(form)))


def test_an_exported_call_fits(tmp_path: Path, small_trees: Trees) -> None:
    store = Store.open(tmp_path / "calls.sqlite3")
    call_id = store.begin()
    call = Call(small_trees, {"devices": ("photo-eye",)}, ["eye-lamp-wrong"], recorder=store.recorder(call_id))
    call.answer("eye-lamp-receiver", "dark")
    call.answer("eye-volts-far-end", "22.6 V")
    call.note("½ [x]")
    call.close("left out of service", "parts")
    written = json.loads(export_call(store, call_id))
    fits("call", written)
    written["events"][2]["value"] = [None]
    fits("call", written)
    written["events"][2]["value"] = {"volts": 1}
    with pytest.raises(jsonschema.ValidationError):
        fits("call", written)
    store.close()


def test_a_door_fits() -> None:
    fits("door", {"site": "Alder Works", "facts": {"devices": ["photo-eye"]}, "data": {"weight": "450 lb"}})
    assert set(DoorRecord.__struct_fields__) == set(json.loads(schema("door"))["$defs"]["DoorRecord"]["properties"])
    with pytest.raises(jsonschema.ValidationError):
        fits("door", {"data": {"weight": 450}})


def test_a_sheet_fits_and_has_nothing_beside(shipped_trees: Trees) -> None:
    for symptom in sorted(shipped_trees.symptoms)[::12]:
        call = Call(shipped_trees, symptoms=[symptom], site="Alder Works")
        data = sheet_data(call, make_sheet(call))
        fits("sheet", data)
        assert set(data) == set(json.loads(schema("sheet"))["$defs"]["SheetForm"]["properties"])
        assert all(math.isfinite(part["needed"]) for part in data["parts"])
