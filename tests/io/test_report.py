"""The results as data and in words."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from typing import Any

import bodies
import numpy as np
import pytest

from ventplanner.analysis.findings import OVERLAPPING_SKINS, Findings, analyse
from ventplanner.geometry.solid import Body
from ventplanner.io import report, summary
from ventplanner.options import AnalysisOptions
from ventplanner.plan.model import NoVent, Plan

OPTIONS = AnalysisOptions(pitch_mm=0.5)


@pytest.fixture(scope="module")
def hollow() -> Findings:
    return analyse(bodies.solid(bodies.box(20), bodies.inward(bodies.box(16))), options=OPTIONS)


@pytest.fixture(scope="module")
def block() -> Findings:
    return analyse(bodies.solid(bodies.box(20)), options=OPTIONS)


def test_the_text_is_ascii_whatever_the_names_are(hollow: Findings) -> None:
    text = report.to_text(report.inspection(hollow) | {"file": "Möwe \udcff.stl"})
    assert text.isascii()
    assert json.loads(text)["file"] == "Möwe \udcff.stl"


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_no_number_that_is_not_finite_gets_out(value: float) -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        report.to_text({"pitch_mm": value})


def test_no_negative_zero_and_no_endless_decimals(hollow: Findings) -> None:
    text = report.to_text(report.inspection(hollow))
    assert not re.search(r"-0\.0\b", text)
    assert max(len(digits) for digits in re.findall(r"\.(\d+)", text)) <= report.DIGITS


def test_a_cup_without_a_vent_is_left_with_reason_and_closest_miss(hollow: Findings) -> None:
    plan = Plan(missing=(NoVent("A", "A1", "the wall is 25 mm long", "20 mm to the left"),))
    assert report.left_after(plan, hollow) == (
        "Cup A1: no vent, because the wall is 25 mm long; closest miss: 20 mm to the left.",
    )
    assert report.left_after(Plan(), hollow) == ("Cavity A is sealed from 2.0 mm up and has no way out.",)


def test_what_is_left_alone_is_said_with_its_note(block: Findings) -> None:
    plan = Plan(left_alone=(("A", "resin is wanted there"), ("B", "")))
    assert report.left_after(plan, block) == (
        "Cavity A is left as it is: resin is wanted there.",
        "Cavity B is left as it is.",
    )


def test_bodies_are_listed_once(block: Findings) -> None:
    named = replace(block.solid, bodies=(Body("hull", 0, 6), Body("mast", 6, 12)))
    assert sum("hull, mast" in text for text in report.assumptions(replace(block, solid=named))) == 1
    noted = replace(named, source=replace(named.source, notes=("2 build items form one part: hull, mast.",)))
    assert sum("hull, mast" in text for text in report.assumptions(replace(block, solid=noted))) == 1


def text_of(findings: Findings, **changes: Any) -> str:
    return summary.inspection_text(report.inspection(findings) | changes)


def test_the_summary_has_every_number_that_counts(hollow: Findings) -> None:
    lines = text_of(hollow, file="out/whelk.stl").splitlines()
    assert lines[0] == "whelk.stl: 20.0 x 20.0 x 20.0 mm, 24 triangles, 3.9 mL of resin"
    assert "A       sealed  4.1 mL  none" in lines
    (cup,) = [line for line in lines if line.startswith("A1")]
    *cells, place = re.split(r"  +", cup)
    assert cells == ["A1", "sealed", "2.0 mm", "the end", "256 mm2", "4.1 mL"]
    assert re.fullmatch(r"\(-?0\.\d, -?0\.\d, -8\.0\)", place)


def test_columns_are_aligned_and_lines_short(hollow: Findings) -> None:
    data = report.inspection(hollow)
    (cavity,) = data["cavities"]
    twelve = [cavity | {"id": name} for name in "ABCDEFGHIJKL"] + [cavity | {"id": "AA", "state": "breathing"}]
    lines = summary.inspection_text(data | {"cavities": twelve}).splitlines()
    start = next(k for k, line in enumerate(lines) if line.startswith("Cavity"))
    columns = {
        line.index(word) for line, word in zip(lines[start : start + 14], ["Volume", *["4.1 mL"] * 13], strict=True)
    }
    assert len(columns) == 1
    assert max(map(len, lines)) <= summary.WIDTH
    assert not any(line != line.rstrip() for line in lines)


@pytest.mark.parametrize(
    ("count", "said"),
    [
        (0, None),
        (1, "1 smaller cup is below the filter, 2.5 mm3."),
        (7, "7 smaller cups are below the filter, 2.5 mm3 together."),
    ],
)
def test_the_filtered_are_counted_in_plain_words(hollow: Findings, count: int, said: str | None) -> None:
    text = text_of(hollow, filtered={"count": count, "volume_mm3": 2.5})
    assert (said in text) if said else ("filter" not in text)


def test_nothing_found_is_one_sentence_and_no_empty_table(block: Findings) -> None:
    text = text_of(block)
    assert "There is no cavity and no cup above the filter." in text
    assert "Nothing is left to do." in text
    assert "Cavity  State" not in text


def test_damage_is_told_with_its_place(block: Findings) -> None:
    health = [
        {"what": "open edges", "count": 3, "at_mm": [1, -0.04, 2]},
        {"what": "odd", "count": 1, "at_mm": None},
        {"what": OVERLAPPING_SKINS, "count": 2, "at_mm": None},
    ]
    data = report.inspection(block)
    text = summary.inspection_text(data | {"part": data["part"] | {"health": health}})
    assert "Mesh: open edges: 3, one of them at (1.0, 0.0, 2.0)\n" in text
    assert "Mesh: odd: 1\n" in text
    assert "Mesh: overlapping skins: 2; ventplanner mend makes them one\n" in text


def test_the_summary_of_a_vented_part_ends_with_what_was_written(block: Findings) -> None:
    data = report.venting(block, Plan(), block, (), verified=True)
    text = summary.venting_text(data, "out.stl", "work.ventplan")
    assert "No hole was drilled." in text
    assert "skin sensitiser" in text
    assert text.endswith("Verified and written: out.stl\nPlan saved: work.ventplan")
    assert np.all([len(line) <= summary.WIDTH for line in text.splitlines()])


def test_a_cup_that_holds_more_than_its_cavity_is_explained(hollow: Findings) -> None:
    said = "a cup can hold more"
    assert said not in text_of(hollow)
    cavities = report.inspection(hollow)["cavities"]
    cavities[0]["volume_mm3"] *= 0.9
    assert said in text_of(hollow, cavities=cavities)
