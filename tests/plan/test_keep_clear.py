"""No hole in the surface that is to be kept clear: proposals, drags, figures, and what is said without a place."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from bodies import ball, box, inward, solid
from hollow_parts import found, two_bells
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.analysis.findings import Findings, analyse
from ventplanner.analysis.kept_clear import KEEP_CLEAR_MM
from ventplanner.app.dragging import moved, resized, turned
from ventplanner.app.keeping_clear import check_depth, left_kept_clear
from ventplanner.errors import InputError, MeshError
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.solid import Solid
from ventplanner.options import VentRules
from ventplanner.plan.fitting import KEPT_CLEAR
from ventplanner.plan.model import Vent
from ventplanner.plan.placement import NO_PLACE_LEFT, propose


def normals(part: Solid) -> np.ndarray:
    a, b, c = np.moveaxis(part.vertices[part.faces], 1, 0)
    n = np.cross(b - a, c - a)
    return n / np.linalg.norm(n, axis=1, keepdims=True)


def middles(part: Solid) -> np.ndarray:
    return part.vertices[part.faces].mean(axis=1)


def outer_side(part: Solid, axis: int, sign: float) -> np.ndarray:
    """(m,) the faces of the outer skin that look along an axis."""
    edge = part.bounds[(1 if sign > 0 else 0), axis]
    return np.abs(part.vertices[part.faces][:, :, axis] - edge).max(axis=1) < 1e-9


def least_gap(part: Solid, mask: FaceMask, vent: Vent) -> float:
    """mm from the axis of a drill to the marked surface between its ends, from many points of it."""
    corners = part.vertices[part.faces[mask.chosen]]
    weights = np.array([(i, j, 24 - i - j) for i in range(25) for j in range(25 - i)]) / 24
    points = np.einsum("pc,kcx->kpx", weights, corners).reshape(-1, 3)
    start, end = np.array(vent.start_mm), np.array(vent.end_mm)
    axis = (end - start) / np.linalg.norm(end - start)
    along = (points - start) @ axis
    inside = (along >= 0) & (along <= np.linalg.norm(end - start))
    across = np.linalg.norm(points - start - along[:, None] * axis, axis=1)
    return float(across[inside].min()) if inside.any() else np.inf


@cache
def hollow_ball() -> tuple[Solid, Findings]:
    part = solid(ball(14.0, fine=3), inward(ball(11.0, (1.0, 0.0, -1.0), fine=3)))
    return part, analyse(part)


@settings(max_examples=4)
@given(seed=st.integers(0, 10_000))
def test_no_proposal_cuts_what_is_marked(seed: int) -> None:
    part, findings = hollow_ball()
    rng = np.random.default_rng(seed)
    marked = np.zeros(len(part.faces), bool)
    for _ in range(rng.integers(1, 4)):
        marked |= middles(part) @ (d := rng.normal(size=3)) > rng.uniform(2.0, 9.0) * np.linalg.norm(d)
    mask = FaceMask.of(marked)
    plan = propose(findings, keep_clear=mask)
    assert plan.vents or plan.missing
    for vent in plan.vents:
        assert least_gap(part, mask, vent) >= vent.radius_mm + KEEP_CLEAR_MM - 0.01
    assert propose(findings, keep_clear=mask) == plan


def test_without_marks_nothing_changes() -> None:
    _, findings = hollow_ball()
    assert propose(findings, keep_clear=FaceMask.none_of(len(findings.solid.faces))) == propose(findings)
    assert findings.keeping_clear(None) is findings


def test_a_vent_goes_where_the_surface_may_be_cut() -> None:
    part = two_bells()
    low = FaceMask.of(outer_side(part, 2, -1.0))
    plan = propose(found(), keep_clear=low)
    assert not plan.missing
    for vent in plan.vents:
        assert abs(vent.axis[2]) < 0.99 or vent.entry_mm[2] > 0
        assert least_gap(part, low, vent) >= vent.radius_mm + KEEP_CLEAR_MM - 0.01


def test_where_no_place_is_left_that_is_the_reason() -> None:
    part = two_bells()
    outside = np.any([outer_side(part, axis, sign) for axis in range(3) for sign in (-1.0, 1.0)], axis=0)
    plan = propose(found(), keep_clear=FaceMask.of(outside))
    assert plan.vents == ()
    assert {m.cavity for m in plan.missing} == {"A", "B"}
    for none in plan.missing:
        assert none.reason == NO_PLACE_LEFT
        assert "of 2.5 mm would fit at (" in none.closest


def test_a_wall_that_is_too_long_is_not_blamed_on_the_marks() -> None:
    part = two_bells()
    everything = ~FaceMask.none_of(len(part.faces))
    plan = propose(found(), VentRules(longest_wall_mm=1.0), keep_clear=everything)
    assert plan.missing
    assert all("the wall is longer than 1 mm" in none.reason for none in plan.missing)


def vent_below_a() -> Vent:
    return next(v for v in propose(found()).vents if v.cavity == "A" and abs(v.axis[2]) > 0.9)


def test_a_drag_into_the_marked_surface_is_refused_with_the_place() -> None:
    part = two_bells()
    # The right half of the lower side.
    marked = FaceMask.of(outer_side(part, 2, -1.0) & (middles(part)[:, 0] > -9.0))
    findings = found().keeping_clear(marked)
    frame = findings.scene.frame
    vent, down = vent_below_a(), frame.direction_to_build(np.array([0.0, 0.0, -1.0]))

    def put(x: float) -> Vent | str:
        return moved(findings, vent, frame.to_build(np.array([x, 0.3, -10.0])), down, False)

    free = put(-12.0)
    assert isinstance(free, Vent)
    refused = put(-7.0)
    assert isinstance(refused, str)
    assert refused.startswith(f"{KEPT_CLEAR}, at (-7.0, 0.3, -10.0) mm")
    edge = middles(part)[marked.flags][:, 0].min() - 1.0  # somewhere beside it, nearer than the rim
    assert isinstance(put(edge), str)
    assert isinstance(moved(found(), vent, frame.to_build(np.array([-7.0, 0.3, -10.0])), down, False), Vent)


def test_figures_that_were_typed_are_refused_as_well() -> None:
    part = two_bells()
    at = vent_below_a().entry_mm
    away = np.linalg.norm(part.vertices[part.faces] - np.array(at), axis=2).min(axis=1)
    marked = FaceMask.of(outer_side(part, 2, -1.0) & (away > 2.2))
    findings, vent = found().keeping_clear(marked), vent_below_a()
    assert isinstance(resized(findings, vent, 1.5), Vent)
    wider = resized(findings, vent, 9.0)
    assert isinstance(wider, str)
    assert KEPT_CLEAR in wider
    # Turned about its entry, it goes into the cavity through other faces: those above it are marked.
    inner = normals(part)[:, 2] > 0.99
    floor = FaceMask.of(inner & (np.abs(middles(part)[:, 2] + 8.0) < 0.1) & (middles(part)[:, 0] > at[0] + 3.5))
    assert isinstance(turned(found().keeping_clear(floor), vent, np.array([0.0, 0.0, 1.0])), Vent)
    aslant = turned(found().keeping_clear(floor), vent, np.array([0.7, 0.0, 0.7]))
    assert isinstance(aslant, str)
    assert KEPT_CLEAR in aslant


def test_a_depth_that_reaches_a_marked_surface_is_refused() -> None:
    part, vent = two_bells(), vent_below_a()
    ceiling = (normals(part)[:, 2] < -0.99) & ~outer_side(part, 2, -1.0)
    findings = found().keeping_clear(FaceMask.of(ceiling))
    check_depth(findings, vent, vent.beyond_mm + 2.0)
    with pytest.raises(InputError, match="kept clear"):
        check_depth(findings, vent, 30.0)


def test_a_vent_that_lies_in_a_surface_marked_later_is_left_to_do() -> None:
    part, plan = two_bells(), propose(found())
    lower = FaceMask.of(outer_side(part, 2, -1.0))
    in_it = [v for v in plan.vents if v.entry_mm[2] < -9.9]
    assert in_it
    left = left_kept_clear(found(), lower, plan)
    assert [one.target for one in left] == [f"vent {v.id}" for v in in_it]
    assert all("cuts the surface to be kept clear" in one.text for one in left)
    assert left_kept_clear(found(), None, plan) == ()


def test_marks_of_another_part_are_refused() -> None:
    with pytest.raises(MeshError, match="the part has"):
        found().keeping_clear(~FaceMask.none_of(7))


def test_of_a_coarse_part_a_face_is_kept_clear_as_a_whole() -> None:
    part = solid(box((20.0, 20.0, 20.0)), inward(box((16.0, 16.0, 16.0))))
    findings = analyse(part)
    mask = FaceMask.of(outer_side(part, 2, -1.0) | outer_side(part, 0, 1.0))
    plan = propose(findings, keep_clear=mask)
    assert plan.vents
    for vent in plan.vents:
        assert least_gap(part, mask, vent) >= vent.radius_mm + KEEP_CLEAR_MM - 0.01
