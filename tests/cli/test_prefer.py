"""`vent --prefer` and `--seen-from`: hidden vents, and the other places that the JSON lists."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from command_line import Runner
from json_contract import documented, problems


def test_hidden_vents_are_on_the_side_that_is_not_looked_at(run: Runner, box: Path, tmp_path: Path) -> None:
    out = tmp_path / "vented.stl"
    more = ("--prefer", "1", "--seen-from", "-1,-0.2,-0.2", "--vents-per-cavity", "1", "--json")
    done = run("vent", box, "--out", out, *more)
    assert done.code == 0, done.err
    report = done.json
    assert problems(report, documented()[1]) == []
    (vent,) = report["vents"]
    assert vent["figures"]["seen_share"] == pytest.approx(0.0, abs=0.02)
    assert not vent["figures"]["late"]
    assert np.dot(vent["axis"], (-1.0, -0.2, -0.2)) < 0.01 or vent["axis"][0] < 0.0


def test_other_places_are_listed_with_their_figures(run: Runner, box: Path, tmp_path: Path) -> None:
    report = run("vent", box, "--out", tmp_path / "vented.stl", "--seen-from", "0,-0.3,-1", "--json").json
    places = [place for vent in report["vents"] for place in vent["alternatives"]]
    assert places
    assert min(place["figures"]["seen_share"] for place in places) < report["vents"][0]["figures"]["seen_share"]


@pytest.mark.parametrize(("option", "value"), [("--prefer", "1.5"), ("--prefer", "x"), ("--seen-from", "0,0,0")])
def test_what_is_no_preference_and_no_direction_is_refused(
    run: Runner, box: Path, tmp_path: Path, option: str, value: str
) -> None:
    done = run("vent", box, "--out", tmp_path / "vented.stl", option, value)
    assert done.code == 2
    assert option in done.err
    assert not (tmp_path / "vented.stl").exists()


def test_a_saved_plan_keeps_the_preference_and_the_direction(run: Runner, box: Path, tmp_path: Path) -> None:
    from ventplanner.io.project import load_plan

    plan = tmp_path / "box.ventplan"
    given = ("--prefer", "0.4", "--seen-from", "0,-2,0", "--save", plan)
    assert run("vent", box, "--out", tmp_path / "vented.stl", *given).code == 0
    rules = load_plan(plan).rules
    assert (rules.prefer, rules.seen_from) == (0.4, (0.0, -2.0, 0.0))
