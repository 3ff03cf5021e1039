"""The preview on a coarse grid tells what hollowing will make, within that grid."""

from __future__ import annotations

import bodies
import numpy as np
import pytest
import trimesh
from solid_parts import crag

from ventplanner.errors import Cancelled, ParameterError
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.pose import BuildFrame, Pose
from ventplanner.hollowing.hollow import hollow
from ventplanner.hollowing.preview import Previewer
from ventplanner.hollowing.rules import HollowRules


def _section(mesh: tuple[np.ndarray, np.ndarray], axis: int, at: float) -> tuple[float, float]:
    """Area and length of outline of a section, by trimesh."""
    normal = np.eye(3)[axis]
    cut = trimesh.Trimesh(*mesh, process=False).section(normal, normal * at)
    flat = np.delete(cut.vertices[np.concatenate([e.nodes for e in cut.entities])], axis, axis=2)
    (x0, y0), (x1, y1) = flat[:, 0].T, flat[:, 1].T
    return abs(0.5 * float((x0 * y1 - x1 * y0).sum())), float(np.linalg.norm(flat[:, 1] - flat[:, 0], axis=1).sum())


@pytest.mark.parametrize("rules", [HollowRules(1.5, "fine", radius_mm=0.5), HollowRules(1.2, "fine", solid_below_mm=4)])
def test_what_is_shown_is_what_the_full_grid_makes_within_the_coarse_one(rules: HollowRules) -> None:
    part, pose = bodies.solid(crag(4)), Pose((0.0, -1.0, 0.0))
    found, done = Previewer(part, pose).preview(rules), hollow(part, pose, rules)
    assert found.step_mm > 3.0 * done.grid_mm
    assert found.exact_mm == done.grid_mm
    inside = BuildFrame.of(part, pose).to_build(done.solid.vertices), done.solid.faces[done.new]
    drawn = found.skins.vertices, found.skins.faces
    for axis in range(3):
        low, high = found.box[:, axis]
        for share in (0.35, 0.5, 0.65):
            at = float(low + share * (high - low))
            area, outline = _section(inside, axis, at)
            # Its outline is at most half a step of the coarse grid beside that of the fine one.
            assert abs(_section(drawn, axis, at)[0] - area) <= 0.5 * found.step_mm * outline
    assert found.saved_mm3 == pytest.approx(done.saved_mm3, rel=0.05)


def test_what_stays_solid_under_a_marked_surface_is_shown_and_other_rules_need_no_second_look_at_the_part() -> None:
    part = bodies.solid(bodies.box(20.0))
    top = FaceMask.of(part.vertices[part.faces][:, :, 2].min(axis=1) > 9.9)
    made = Previewer(part, Pose(), top)
    for depth, sealed in ((8.0, 8.0), (5.0, 5.0)):
        rules = HollowRules(2.0, radius_mm=0.0, solid_depth_mm=depth)
        assert made.preview(rules).skins.vertices[:, 2].max() == pytest.approx(20.0 - sealed, abs=0.05)
    # Open to the plate: what lies in the part counts, 16 mm square and 18 mm high.
    opened = Previewer(part, Pose()).preview(HollowRules(2.0, radius_mm=0.0, open_side="plate"))
    assert opened.saved_mm3 == pytest.approx(16.0 * 16.0 * 18.0, rel=0.01)
    with pytest.raises(ParameterError, match="nothing of the part can be hollowed"):
        made.preview(HollowRules(12.0))

    def stop(_phase: str, _share: float) -> None:
        raise Cancelled

    with pytest.raises(Cancelled):
        made.preview(HollowRules(2.0), stop)
