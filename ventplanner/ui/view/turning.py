"""Whether two meshes are one part in two poses, and how it was turned from the one to the other. Numpy only."""

from __future__ import annotations

import numpy as np

from ventplanner.geometry.solid import FloatArray
from ventplanner.ui.picture import Mesh, Picture

_SAMPLED = 2_000
_SAME_SHARE = 1e-6
"""Places that differ by less than this share of the part's size are the same, up to the rounding of a turn."""


def turn_between(before: Mesh, after: Mesh) -> FloatArray | None:
    """(4, 4) matrix that brings the points of one mesh to those of the other; None if they are not the same part.

    The best rotation of some of the points (Kabsch 1976, "A solution for the best rotation to relate two sets of
    vectors", Acta Cryst. A32), taken only if it is right: another part, or another unit, fits no rotation.
    """
    if before.vertices.shape != after.vertices.shape or not len(before.vertices):
        return None
    if before.faces is not after.faces and not np.array_equal(before.faces, after.faces):
        return None
    step = -(-len(before.vertices) // _SAMPLED)
    a, b = before.vertices[::step], after.vertices[::step]
    middle_a, middle_b = a.mean(axis=0), b.mean(axis=0)
    u, _, v = np.linalg.svd((a - middle_a).T @ (b - middle_b))
    mirrored = np.diag([1.0, 1.0, np.sign(np.linalg.det(u @ v))])
    rotation = (u @ mirrored @ v).T
    shift = middle_b - rotation @ middle_a
    size = float(np.ptp(b, axis=0).max())
    if float(np.abs(a @ rotation.T + shift - b).max()) > _SAME_SHARE * max(size, 1e-9):
        return None
    turn = np.eye(4)
    turn[:3, :3], turn[:3, 3] = rotation, shift
    return turn


def is_same_part(before: Picture | None, after: Picture | None) -> bool:
    """True for two pictures of one part, however it is turned."""
    if before is None or after is None:
        return False
    return before.part.key == after.part.key or turn_between(before.part, after.part) is not None


def kept_height(printed: float | None, before: Picture | None, after: Picture | None) -> float | None:
    """The height that the print has come to, as far as it still means something in another picture."""
    if printed is None or before is after:
        return printed
    if not is_same_part(before, after) or after is None or printed >= after.height:
        return None
    return printed
