"""What one more drill changes, swept in the pieces that it reaches, is what sweeping the whole part shows."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from bodies import box, inward, solid, voxel_solid
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.analysis.cups import Cups
from ventplanner.analysis.findings import Findings, analyse
from ventplanner.analysis.one_more import Drilled
from ventplanner.analysis.pools import pools, pools_in
from ventplanner.geometry import pieces
from ventplanner.geometry.columns import Tool
from ventplanner.geometry.pose import Pose
from ventplanner.options import AnalysisOptions


@cache
def crumb(seed: int) -> Findings:
    """Random voxels of 3 mm: sealed hollows, cups and shafts beside each other."""
    filled = np.random.default_rng(seed).random((6, 5, 6)) < 0.65
    filled[2, 2, :] = True
    return analyse(
        voxel_solid(filled, 3.0), Pose(on="plate" if seed % 2 else "supports"), AnalysisOptions(pitch_mm=0.6)
    )


@cache
def row_of_hollows() -> Findings:
    hollows = [inward(box((10.0, 10.0, 10.0), (x, 0.0, 10.0))) for x in (-26.0, 0.0, 26.0)]
    return analyse(solid(box((80.0, 20.0, 20.0), (0.0, 0.0, 10.0)), *hollows), Pose(on="plate"))


def told(findings: Findings, cups: Cups, points: np.ndarray) -> list[tuple[float | str | None, ...]]:
    """What is said of the cup at each point."""
    found: list[tuple[float | str | None, ...]] = []
    for number in cups.cup_at(points):
        cup = cups.cups[number] if number >= 0 else None
        state = "" if cup is None else cup.state(findings.options)
        figures = () if cup is None else (cup.from_height, cup.to_height, cup.joins_height, cup.top_height)
        found.append((state, *figures, 0.0 if cup is None else round(cup.sealed_volume, 6)))
    return found


def some_drill(findings: Findings, rng: np.random.Generator) -> Tool:
    low, high = findings.scene.vertices.min(axis=0), findings.scene.vertices.max(axis=0)
    start = rng.uniform(low - 1.0, high + 1.0)
    end = start + rng.choice(([0.0, 0.0, 8.0], [7.0, 0.0, 0.0], 5.0 * rng.normal(size=3)))
    ends = (tuple(map(float, p)) for p in (start, end))
    return Tool(*ends, float(rng.uniform(0.4, 2.0)), spread=float(rng.choice((0.0, 0.7))))  # type: ignore[arg-type]


@settings(max_examples=25)
@given(part=st.integers(0, 5), seed=st.integers(0, 10**6), count=st.integers(0, 4))
def test_pieces_show_what_the_whole_part_shows(part: int, seed: int, count: int) -> None:
    findings, rng = crumb(part), np.random.default_rng(seed)
    scene = findings.scene
    others, one = tuple(some_drill(findings, rng) for _ in range(count)), some_drill(findings, rng)
    starts = np.array([c.start for c in findings.cups.cups]).reshape(-1, 3) + np.array([0.0, 0.0, 1e-4])
    spread = rng.uniform(scene.vertices.min(axis=0), scene.vertices.max(axis=0), (100, 3))
    points = np.concatenate((starts, spread))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pieces, "LARGE", 2.0)
        change = Drilled(scene, others).one_more(one, starts[:1])
        in_pieces = {c.id: pools_in(findings, (*others, one), c.id) for c in findings.cavities}
    before, after = scene.cups(others), scene.cups((*others, one))
    held = change.holds(points)
    assert told(findings, change.after, points[held]) == told(findings, after, points[held])
    assert told(findings, before, points[~held]) == told(findings, after, points[~held])
    freed, whole = (
        a.sealed_area.volume - b.sealed_area.volume for a, b in ((change.before, change.after), (before, after))
    )
    assert freed == pytest.approx(whole, abs=1e-6)
    for name, stays in pools(findings, (*others, one)).items():
        assert in_pieces[name].hanging == pytest.approx(stays.hanging, abs=1e-9)
        assert in_pieces[name].standing == pytest.approx(stays.standing, abs=1e-9)


def test_a_drill_into_one_hollow_leaves_the_columns_of_the_others_alone() -> None:
    findings = row_of_hollows()
    drilled = Drilled(findings.scene, (Tool((26.0, -11.0, 6.0), (26.0, -4.0, 6.0), 1.0),))
    change = drilled.one_more(Tool((-26.0, -11.0, 6.0), (-26.0, -4.0, 6.0), 1.0), np.empty((0, 3)))
    assert change.swept is not None
    starts = np.array([[x, 0.0, 5.1] for x in (-26.0, 0.0, 26.0)])
    assert change.holds(starts).tolist() == [True, False, False]
    assert len(change.swept.columns) < 0.3 * findings.scene.runs.grid.n_columns
