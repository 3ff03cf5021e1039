"""Slots, squares and countersinks in a plan file: the format that holds them, and what is refused."""

from __future__ import annotations

import json
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest
from plan_values import vent, wedge

from ventplanner.errors import ProjectError
from ventplanner.geometry.outline import Outline
from ventplanner.io.project import SavedPlan, load_plan, save_plan
from ventplanner.plan.model import Countersink, Plan

PLAN = SavedPlan(wedge(), Plan((vent("1", 0.0), vent("2", 20.0))))


def document_of(file: Path) -> str:
    with zipfile.ZipFile(file) as archive:
        return archive.read("plan.json").decode()


SLOT = replace(vent("4", 5.0), axis=(0.0, 0.0, 1.0), outline=Outline("slot", 6.0, (0.6, 0.8, 0.0)))


def schema_of(file: Path) -> str:
    return str(json.loads(document_of(file))["schema"])


def test_sections_and_countersinks_are_kept_in_the_second_format_and_other_plans_in_the_first(tmp_path: Path) -> None:
    file = tmp_path / "whelk.ventplan"
    save_plan(file, PLAN)
    assert schema_of(file) == "ventplanner-plan/1"
    assert "section" not in document_of(file)
    flared = replace(vent("5", 7.0), wall_mm=3.0, countersink=Countersink(4.0, 1.0))
    square = replace(SLOT, outline=Outline("square", 0.0, (0.6, 0.8, 0.0)))
    plan = replace(PLAN, plan=PLAN.plan.with_vent(SLOT).with_vent(flared), set_aside=(square,))
    save_plan(file, plan, overwrite=True)
    assert schema_of(file) == "ventplanner-plan/2"
    read = load_plan(file)
    assert (read.plan, read.set_aside) == (plan.plan, plan.set_aside)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"section": {"shape": "slot", "length_mm": 1.0, "along": [0.6, 0.8, 0.0]}}, "cannot be 1 mm long"),
        ({"section": {"shape": "slot", "length_mm": 6.0, "along": [0.6, 0.0, 0.8]}}, "not square to the axis"),
        ({"section": {"shape": "slot", "length_mm": 6.0, "along": [0.6, 0.0, 0.0]}}, "no unit vector"),
        ({"section": {"shape": "star", "length_mm": 6.0, "along": [0.6, 0.8, 0.0]}}, "star"),
        ({"countersink": {"width_mm": 0.5, "depth_mm": 1.0}}, "not wider"),
        ({"countersink": {"width_mm": 9.0, "depth_mm": 99.0}}, "not less than wall_mm"),
    ],
)
def test_a_section_that_is_none_is_refused_with_its_place(
    tmp_path: Path, changes: dict[str, object], told: str
) -> None:
    file = tmp_path / "whelk.ventplan"
    save_plan(file, replace(PLAN, plan=PLAN.plan.with_vent(SLOT)))
    with zipfile.ZipFile(file) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    document = json.loads(members["plan.json"])
    document["vents"][2]["vent"].update(changes)
    members["plan.json"] = json.dumps(document).encode()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    with pytest.raises(ProjectError, match=told):
        load_plan(file)
