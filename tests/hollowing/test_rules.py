"""What stays solid, what carries what, and what stands inside."""

from __future__ import annotations

from dataclasses import replace

import bodies
import numpy as np
import pytest
import solid_parts as parts
from scipy.ndimage import label

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.analysis.inside import look_inside
from ventplanner.errors import ParameterError
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.solid import Body, Solid
from ventplanner.geometry.topology import topology
from ventplanner.hollowing.hollow import Hollowed, hollow
from ventplanner.hollowing.lattice import between_struts
from ventplanner.hollowing.rules import HollowRules
from ventplanner.options import AnalysisOptions, InsideLimits


def hollowed(part: Solid, **rules: object) -> Hollowed:
    return hollow(part, None, HollowRules(**{"wall_mm": 2.0, "fineness": "coarse", **rules}))  # type: ignore[arg-type]


def looked(done: Hollowed) -> Findings:
    """By columns that know nothing of the grid on which the hollow was drawn."""
    return analyse(done.solid, None, AnalysisOptions(pitch_mm=0.13))


def test_a_part_stays_solid_below_a_height() -> None:
    done = hollowed(bodies.solid(bodies.box(20)), solid_below_mm=7.0, radius_mm=0.0)
    assert parts.inner(done).bounds[0, 2] == pytest.approx(-10.0 + 7.0, abs=1e-4)
    assert done.saved_mm3 == pytest.approx(16 * 16 * 11, rel=0.005)


def test_a_part_stays_solid_under_marked_faces() -> None:
    part = bodies.solid(bodies.box(20))
    on_top = FaceMask.of(part.vertices[part.faces][:, :, 2].min(axis=1) > 9.9)
    done = hollow(part, None, HollowRules(wall_mm=2.0, radius_mm=0.0, solid_depth_mm=6.0), keep_solid=on_top)
    assert parts.inner(done).bounds[1, 2] == pytest.approx(10.0 - 6.0, abs=0.01)


def test_thin_limbs_stay_solid_and_corners_of_the_body_do_not() -> None:
    part = bodies.solid(bodies.union(bodies.box(24), bodies.rod((0, 0, 0), (40, 0, 0), 4.0)))
    free, kept = hollowed(part), hollowed(part, limb_mm=8.0)
    assert parts.inner(free).bounds[1, 0] > 36.0
    # A ball of 4 mm that is a wall away from where the arm begins, 4 mm off its axis, reaches sqrt(3) times 4 mm.
    reach = 12.0 - np.sqrt(6.0**2 - 4.0**2) + np.sqrt(3.0) * 4.0
    assert parts.inner(kept).bounds[1, 0] == pytest.approx(reach, abs=0.3)
    box = bodies.solid(bodies.box(24))
    assert hollowed(box, limb_mm=8.0).saved_mm3 == pytest.approx(hollowed(box).saved_mm3, rel=0.005)


@pytest.mark.parametrize("shape", ["dimpled", "crag"])
def test_nothing_in_the_hollow_starts_in_mid_air(shape: str) -> None:
    done = hollowed(bodies.solid(getattr(parts, shape)()))
    inside = look_inside(looked(done))
    assert [x for x in inside.islands if x.cavity] == []
    assert inside.specks == ()


@pytest.mark.parametrize("shape", ["box", "dimpled"])
def test_ceilings_are_as_steep_as_asked(shape: str) -> None:
    part = bodies.solid(bodies.box(20) if shape == "box" else parts.dimpled())
    limits = InsideLimits(overhang_deg=35.0)
    plain = look_inside(looked(hollowed(part)), None, limits)
    shaped = look_inside(looked(hollowed(part, steepness_deg=45.0)), None, limits)
    assert sum(c.area for c in plain.ceilings) > 50.0
    # What is left are the bumps of ribs beside each other, and the ridge, which is two reaches wide.
    assert sum(c.area for c in shaped.ceilings) < 0.1 * sum(c.area for c in plain.ceilings)
    assert [x for x in shaped.islands if x.cavity] == []


def test_a_lattice_leaves_one_hollow_that_hangs_together() -> None:
    """By the join tree of the analysis."""
    part = bodies.solid(parts.crag())
    plain, filled = hollowed(part), hollowed(part, filling="struts", cell_mm=6.0, strut_mm=1.0)
    assert 0.5 * plain.saved_mm3 < filled.saved_mm3 < 0.95 * plain.saved_mm3
    found = looked(filled)
    assert [c.state for c in found.cavities] == ["sealed"]
    assert found.cavities[0].volume == pytest.approx(filled.saved_mm3, rel=0.01)
    assert [x for x in look_inside(found).islands if x.cavity] == []
    assert len(parts.inner(filled).split(only_watertight=False)) == 1  # one skin: no island, no pocket


def test_struts_are_as_thick_as_asked_and_joined_to_the_wall() -> None:
    done = hollowed(bodies.solid(bodies.box(30)), filling="struts", cell_mm=10.0, strut_mm=2.0)
    inside = parts.inner(done)
    on_struts = inside.vertices[parts.thickness(done, inside.vertices) > 4.0]
    assert len(on_struts) > 1000
    # One skin goes round all of it: no strut ends in the hollow or floats there.
    assert inside.body_count == 1
    # A strut's middle is solid, one and a half radii from there is not: along the line (1, 1, 1) of the build axes.
    build = on_struts - [0.0, 0.0, done.original.bounds[0, 2]]
    folded = np.abs(build / 10.0 % 1.0 - 0.5)
    gap = 10.0 * np.sqrt((folded**2).sum(axis=1) - folded.sum(axis=1) ** 2 / 3.0)
    assert np.median(gap) == pytest.approx(1.0, abs=0.02)


def test_a_hollow_that_is_open_to_the_plate_goes_straight_through_it() -> None:
    box = bodies.box(20)
    done = hollowed(bodies.solid(box), open_side="plate", radius_mm=0.0)
    assert done.hollow_mm3 == pytest.approx([16 * 16 * 18], rel=0.005)
    assert done.inner_mm2 == pytest.approx(16 * 16 + 4 * 16 * 18, rel=0.02)
    found = topology(done.solid)
    assert found.is_closed
    assert found.is_oriented
    assert found.n_skins == 1
    # All that does not lie on the plate is there to the last bit.
    sides = {f.tobytes() for f in box.triangles[box.triangles[:, :, 2].max(axis=1) > -10.0]}
    assert sides <= {f.tobytes() for f in done.solid.vertices[done.solid.faces]}
    with pytest.raises(ParameterError, match="No face of the part lies flat on the plate"):
        hollowed(bodies.solid(parts.crag()), open_side="plate")
    with pytest.raises(ParameterError, match="cannot be open there"):
        HollowRules(open_side="plate", solid_below_mm=3.0)


def test_each_hollow_goes_to_the_body_it_is_in() -> None:
    both = bodies.solid(bodies.box(14), bodies.box(16, (30, 0, 0)))
    half = len(both.faces) // 2
    named = replace(both, bodies=(Body("one", 0, half), Body("other", half, 2 * half)))
    done = hollowed(named)
    assert [b.name for b in done.solid.bodies] == ["one", "other"]
    for body, low in zip(done.solid.bodies, (-7.0, 22.0), strict=True):
        points = done.solid.vertices[done.solid.faces[body.start : body.stop]]
        assert points[:, :, 0].min() == low
        assert done.new[body.start : body.stop].any()


def test_the_largest_ball_that_passes_the_lattice_is_as_told() -> None:
    """Sought on a fine grid over cells in a row: what stays joined from one end to the other."""
    n = 64
    away = between_struts((n, n, 2 * n), np.full(3, 0.5 / n), 1.0 / n, 1.0, 0.0)
    fits = {}
    for radius in (0.32, 0.365):
        names, _ = label(away > radius)
        fits[radius] = bool(set(names[..., 0].ravel()) & set(names[..., -1].ravel()) - {0})
    assert fits == {0.32: True, 0.365: False}
    assert HollowRules(cell_mm=10.0, strut_mm=1.0).way_through_mm == pytest.approx(2 * 10 / np.sqrt(8) - 1.0)
