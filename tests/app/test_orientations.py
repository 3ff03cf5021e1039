"""Orientations in words: an invented search, so that each figure is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ventplanner.app import edits
from ventplanner.app.orientations import (
    QUANTITIES,
    Row,
    found_for,
    held,
    mapped,
    nearest,
    orient_key,
    rows,
    short_list,
    there,
    title,
    told,
    varies,
)
from ventplanner.app.state import AppState
from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import Solid
from ventplanner.options import AnalysisOptions, InsideLimits
from ventplanner.orienting.model import Candidate, Figures, Map, Search
from ventplanner.profile import Profile

NOW = Figures(5, 1, 9000.0, 900.0, 7200.0, 180.0, 1300.0, 0.3, 0, 0.0, 100.0, 300.0)
BETTER = Figures(2, 0, 3000.0, None, 400.0, 120.0, 1300.0, 0.5, 2, 40.0, 112.0, 300.0)
TILTED = Pose((0.6, 0.0, -0.8))
ON_FACE = Pose((0.0, 0.0, 1.0), "plate")
DIRECTIONS = np.array([(0.0, 0.0, -1.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (0.6, 0.0, -0.8)])
FOUND = Search(
    Candidate(Pose(), NOW),
    (Candidate(TILTED, BETTER), Candidate(ON_FACE, NOW, 1250.0)),
    Map(
        DIRECTIONS,
        {"vents": np.array([5.0, 6.0, 1.0, 2.0]), "sealed_mm3": np.array([7100.0, np.nan, 1200.0, 400.0])},
        np.array([False, False, True, True]),
    ),
    np.zeros((0, 3)),
)


def test_every_figure_of_a_search_has_its_words() -> None:
    assert [q.name for q in QUANTITIES] == list(Figures.__dataclass_fields__)
    assert all(q.told(1234.5) for q in QUANTITIES)


def test_the_short_list_is_told_beside_the_present_orientation() -> None:
    now = found_for(FOUND, Pose())
    first, second = short_list(FOUND)
    assert (first.number, second.number, now.number) == (1, 2, 0)
    assert told(now) == (
        "5 vents, 1 cup without a place, suction 9.0 kPa, 7.2 mL sealed, 1.3 mL resin left, 100.0 mm high."
    )
    assert told(first, now) == (
        "2 vents (3 fewer), 0 cups without a place (1 fewer), suction 3.0 kPa (6.0 kPa less),"
        " 400 mm3 sealed (6.8 mL less), 1.3 mL resin left, 112.0 mm high (12.0 mm higher)."
    )
    assert held(first) == "On supports, 5 mm."
    assert held(second) == "It stands on 1250 mm2."


def test_the_figures_of_two_orientations_say_which_is_better() -> None:
    found = {row.name: row for row in rows(short_list(FOUND)[0], found_for(FOUND, Pose()))}
    assert found["Vents"] == Row("Vents", "Vents", "Vents. Holes that it needs", "2", "5", "here")
    assert found["Height"].better == "now"
    assert found["Resin left"].better == ""
    assert "Overpressure" not in found  # not known here


def test_a_place_of_the_map_is_coarse_unless_it_was_worked_out() -> None:
    place = there(FOUND, (0.9, 0.1, -0.1), Pose(gap_mm=5.0))
    assert place.coarse
    assert place.pose == Pose((1.0, 0.0, 0.0))
    assert told(place) == "About 1 vent, about 1.2 mL sealed."
    known = there(FOUND, (0.61, 0.0, -0.79), Pose())
    assert (known.number, known.coarse) == (1, False)
    unknown = there(FOUND, (0.0, 0.1, 0.9), Pose())
    assert unknown.coarse  # on the plate it was worked out, not on supports
    assert told(unknown) == "About 6 vents."  # what is not known is not told
    assert nearest(FOUND.map, (0.0, 0.2, -0.9)) == 0
    known = mapped(FOUND.map)
    assert [q.name for q in known] == ["vents", "sealed_mm3"]
    assert varies(FOUND.map, known[0])
    flat = replace(FOUND.map, figures={"vents": np.full(4, 3.0)})
    assert not varies(flat, known[0])


@pytest.mark.parametrize(
    ("direction", "words"),
    [
        ((0.0, 0.0, -1.0), "Bottom"),
        ((0.6, 0.0, -0.8), "Bottom, 37° towards right"),
        ((0.5, -0.5, 0.7), "Top, 45° towards right and front"),
    ],
)
def test_a_direction_has_a_short_name(direction: tuple[float, float, float], words: str) -> None:
    assert title(Pose(direction)) == words


def test_a_turned_part_has_the_same_search_and_one_that_is_analysed_otherwise_has_not() -> None:
    part = Solid(np.eye(4, 3), np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]]))
    state, profile = AppState(part), Profile()
    key = orient_key(state, profile)
    turned = edits.set_pose(state, Pose((1.0, 0.0, 0.0), "plate")).state
    assert orient_key(turned, profile) == key
    others = (
        replace(state, options=AnalysisOptions(pitch_mm=0.7)),
        replace(state, limits=InsideLimits(thin_mm=0.9)),
        replace(state, pose=Pose(gap_mm=7.0)),
    )
    keys = {
        key,
        *(orient_key(other, profile) for other in others),
        orient_key(state, replace(profile, suction_limit_kpa=9.0)),
    }
    assert len(keys) == 5
