"""Compiled loops for lines of sight: a tree of boxes over the faces, and the first face that each ray meets."""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.jit import F8, IN_F8_1, IN_F8_2, IN_I4_1, IN_I4_2, OUT_F8_1, OUT_F8_2, OUT_I4_1, VOID, kernel

LEAF = 8
"""Faces of a leaf: neighbours in the order of the faces, which is a spatial one."""

DEEPEST = 64
"""Nodes that wait at most: one for each level of the tree."""


@kernel(VOID(IN_F8_2, IN_I4_2, OUT_F8_2))
def bound_tree(vertices: Any, faces: Any, bounds: Any) -> None:
    """Boxes of a full binary tree: node k has the children 2k + 1 and 2k + 2, the last level are the leaves.

    bounds: (2 n - 1, 6) out, n a power of two, n * LEAF >= number of faces; lowest then highest corner. Leaves without
    faces are empty: their lowest corner is above their highest.
    """
    leaves = (bounds.shape[0] + 1) // 2
    for leaf in range(leaves):
        node = leaves - 1 + leaf
        for k in range(3):
            bounds[node, k], bounds[node, 3 + k] = np.inf, -np.inf
        for f in range(leaf * LEAF, min(faces.shape[0], (leaf + 1) * LEAF)):
            for c in range(3):
                for k in range(3):
                    x = vertices[faces[f, c], k]
                    bounds[node, k] = min(bounds[node, k], x)
                    bounds[node, 3 + k] = max(bounds[node, 3 + k], x)
    for node in range(leaves - 2, -1, -1):
        for k in range(3):
            bounds[node, k] = min(bounds[2 * node + 1, k], bounds[2 * node + 2, k])
            bounds[node, 3 + k] = max(bounds[2 * node + 1, 3 + k], bounds[2 * node + 2, 3 + k])


@kernel(F8(IN_F8_2, IN_I4_1, IN_F8_1, IN_F8_1))
def _along_to_face(vertices: Any, face: Any, origin: Any, direction: Any) -> float:
    """mm along a ray to a face, edges included; inf if it is missed. Moller & Trumbore 1997, J. Graphics Tools 2(1)."""
    dx, dy, dz = direction[0], direction[1], direction[2]
    a, b, c = face[0], face[1], face[2]
    x0, y0, z0 = vertices[a, 0], vertices[a, 1], vertices[a, 2]
    px, py, pz = vertices[b, 0] - x0, vertices[b, 1] - y0, vertices[b, 2] - z0
    qx, qy, qz = vertices[c, 0] - x0, vertices[c, 1] - y0, vertices[c, 2] - z0
    hx, hy, hz = dy * qz - dz * qy, dz * qx - dx * qz, dx * qy - dy * qx
    det = px * hx + py * hy + pz * hz
    if det == 0.0:
        return np.inf
    sx, sy, sz = origin[0] - x0, origin[1] - y0, origin[2] - z0
    u = (sx * hx + sy * hy + sz * hz) / det
    if u < -1e-9 or u > 1.0 + 1e-9:
        return np.inf
    kx, ky, kz = sy * pz - sz * py, sz * px - sx * pz, sx * py - sy * px
    v = (dx * kx + dy * ky + dz * kz) / det
    if v < -1e-9 or u + v > 1.0 + 1e-9:
        return np.inf
    along: float = (qx * kx + qy * ky + qz * kz) / det
    return along


@kernel(VOID(IN_F8_2, IN_I4_2, IN_F8_2, IN_F8_2, IN_F8_2, F8, IN_F8_1, OUT_F8_1, OUT_I4_1))
def first_met(
    vertices: Any,
    faces: Any,
    bounds: Any,
    origins: Any,
    directions: Any,
    least: float,
    reach: Any,
    along: Any,
    met: Any,
) -> None:
    """The nearest face along each ray between `least` and its reach: along (k,) out, inf for none; met (k,) out, -1.

    Boxes are met by their slabs (Kay & Kajiya 1986, Computer Graphics 20(4)).
    """
    leaves = (bounds.shape[0] + 1) // 2
    stack = np.empty(DEEPEST, np.int64)
    for ray in range(origins.shape[0]):
        ox, oy, oz = origins[ray, 0], origins[ray, 1], origins[ray, 2]
        dx, dy, dz = directions[ray, 0], directions[ray, 1], directions[ray, 2]
        # A component of zero would make 0 * inf: such a ray leans by less than any length that matters.
        ix = 1.0 / (dx if abs(dx) > 1e-14 else 1e-14)
        iy = 1.0 / (dy if abs(dy) > 1e-14 else 1e-14)
        iz = 1.0 / (dz if abs(dz) > 1e-14 else 1e-14)
        nearest, face = reach[ray], -1
        stack[0], top = 0, 1
        while top > 0:
            top -= 1
            node = stack[top]
            ax, bx = (bounds[node, 0] - ox) * ix, (bounds[node, 3] - ox) * ix
            ay, by = (bounds[node, 1] - oy) * iy, (bounds[node, 4] - oy) * iy
            az, bz = (bounds[node, 2] - oz) * iz, (bounds[node, 5] - oz) * iz
            enter = max(min(ax, bx), min(ay, by), min(az, bz), 0.0)
            leave = min(max(ax, bx), max(ay, by), max(az, bz), nearest)
            if enter > leave + 1e-9 or bounds[node, 0] > bounds[node, 3]:
                continue
            if node < leaves - 1:
                # The nearer child is looked at first: children are neighbours, their middles tell which.
                one, other = 2 * node + 1, 2 * node + 2
                ahead = 0.0
                ahead += (bounds[other, 0] + bounds[other, 3] - bounds[one, 0] - bounds[one, 3]) * dx
                ahead += (bounds[other, 1] + bounds[other, 4] - bounds[one, 1] - bounds[one, 4]) * dy
                ahead += (bounds[other, 2] + bounds[other, 5] - bounds[one, 2] - bounds[one, 5]) * dz
                stack[top], stack[top + 1] = (other, one) if ahead > 0.0 else (one, other)
                top += 2
                continue
            leaf = node - (leaves - 1)
            for f in range(leaf * LEAF, min(faces.shape[0], (leaf + 1) * LEAF)):
                t = _along_to_face(vertices, faces[f], origins[ray], directions[ray])
                if least < t < nearest:
                    nearest, face = t, f
        met[ray] = face
        along[ray] = nearest if face >= 0 else np.inf
