"""Closed meshes from fields: skins, hollows at a wall's distance, and the finished solid."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from manifold3d import Manifold, Mesh64
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree
from skimage.measure import marching_cubes

from samples.modelling import Distances, Field, Triple, moved, smooth_common

Box = tuple[tuple[float, float, float], tuple[float, float, float]]
Skin = tuple[NDArray[np.float64], NDArray[np.int32]]

BLOCK = 12


def grid_of(field: Field, box: Box, step: float) -> tuple[NDArray[np.float32], NDArray[np.float64]]:
    """Field values on a grid over the box and the grid's origin; blocks far from the surface hold one value each."""
    low, high = np.asarray(box[0], float), np.asarray(box[1], float)
    blocks = np.ceil((high - low) / (step * BLOCK)).astype(int)
    low = (low + high - blocks * step * BLOCK) / 2
    index = np.stack(np.meshgrid(*(np.arange(n) for n in blocks), indexing="ij"), axis=-1).reshape(-1, 3)
    middles = low + (index + 0.5) * step * BLOCK
    at_middle = field(np.ascontiguousarray(middles.T, np.float32))
    active = np.abs(at_middle) < 1.5 * step * BLOCK * np.sqrt(3) / 2
    values = np.repeat(at_middle[:, None], BLOCK**3, axis=1)
    inner = np.stack(np.meshgrid(*(np.arange(BLOCK),) * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    chosen = np.flatnonzero(active)
    for some in np.array_split(chosen, max(1, len(chosen) // 200)):
        p = low + (index[some, None] * BLOCK + inner[None]) * step
        values[some] = field(np.ascontiguousarray(p.reshape(-1, 3).T, np.float32)).reshape(len(some), -1)
    grid = values.reshape(*blocks, BLOCK, BLOCK, BLOCK).transpose(0, 3, 1, 4, 2, 5).reshape(blocks * BLOCK)
    return grid, low


def skin_of_grid(grid: NDArray[np.float32], low: NDArray[np.float64], step: float, level: float = 0.0) -> Skin:
    """The closed skin where the grid crosses `level`, outward normals, largest connected piece only."""
    values = grid - np.float32(level)
    # A value of exactly zero would put several corners of the mesh in one place.
    values[np.abs(values) < 1e-3 * step] = 1e-3 * step
    corners, faces, _, _ = marching_cubes(values, 0.0, gradient_direction="descent", allow_degenerate=True)
    return largest_piece((corners.astype(float) * step + low, faces.astype(np.int32)))


def largest_piece(skin: Skin) -> Skin:
    """The connected piece with the most triangles, its vertices renumbered."""
    corners, faces = skin
    links = coo_array(
        (np.ones(len(faces) * 2), (faces[:, [0, 1]].ravel(), faces[:, [1, 2]].ravel())), (len(corners),) * 2
    )
    _, label = connected_components(links, directed=False)
    sizes = np.bincount(label[faces[:, 0]])
    kept = faces[label[faces[:, 0]] == np.argmax(sizes)]
    used, renumbered = np.unique(kept, return_inverse=True)
    return corners[used], renumbered.reshape(-1, 3).astype(np.int32)


def skin_of(field: Field, box: Box, step: float) -> Skin:
    """The skin of a field on an even grid, pulled onto the surface."""
    grid, low = grid_of(field, box, step)
    return settled(skin_of_grid(grid, low, step), field, 0.2 * step, 0.3 * step)


def settled(skin: Skin, field: Field, reach: float, limit: float) -> Skin:
    """The skin with its vertices pulled onto the surface by two Newton steps of at most `limit` mm.

    `reach` is the half width of the central differences that give the gradient.
    """
    corners, faces = skin
    for _ in range(2):
        p = np.ascontiguousarray(corners.T, np.float32)
        sides = np.eye(3, dtype=np.float32) * np.float32(reach)
        gradient = np.stack([field(moved(p, -e)) - field(moved(p, e)) for e in sides]) / np.float32(2 * reach)
        size = np.maximum((gradient**2).sum(axis=0), 0.25)
        corners = corners + np.clip(-field(p) / size * gradient, -limit, limit).T
    return corners, faces


def economical(skin: Skin, field: Field, tolerance: float = 0.05, longest: float = 2.0) -> Skin:
    """The skin with few triangles where it is flat (moved by at most `tolerance` mm) and no edge over `longest` mm.

    The long edges are split again and settled on the surface, because thin slivers shade badly.
    """
    few = manifold_of(skin).simplify(tolerance).refine_to_length(longest)
    return settled(skin_of_manifold(few), field, tolerance, tolerance / 2)


def hollow_of(
    field: Field, box: Box, wall: float, step: float, outer: Skin | None = None, within: Field | None = None
) -> Skin:
    """The skin `wall` mm inside the surface of a field (true distance), outward normals as if it were a body.

    The field may lack the details of the real outer skin `outer`, which stays at least 0.75 `wall` away. `within`
    limits the hollow to another field, whose edge with the wall is rounded.
    """
    corners, _ = skin_of(field, box, max(step * 0.8, 0.42))
    grid, low = grid_of(field, box, step)
    inside = np.flatnonzero(grid.ravel() < 0)
    p = (np.stack(np.unravel_index(inside, grid.shape), axis=-1) * step + low).astype(np.float32)
    depth = np.full(grid.size, np.float32(wall))
    depth[inside] = wall - _distance(p, corners, wall + 4 * step)
    if outer is not None:
        depth[inside] = smooth_common(depth[inside], 0.75 * wall - _distance(p, outer[0], wall + 4 * step), 0.5)
    if within is not None:
        depth[inside] = smooth_common(depth[inside], within(np.ascontiguousarray(p.T)), 1.5)
    smooth = gaussian_filter(depth.reshape(grid.shape), 1.3)
    return skin_of_grid(smooth, low, step)


def _distance(p: NDArray[np.float32], corners: NDArray[np.float64], most: float) -> Distances:
    """Distance from (n, 3) points to the nearest corner of a dense skin, at most `most`."""
    away, _ = cKDTree(corners).query(p, distance_upper_bound=most)
    return np.minimum(away, most).astype(np.float32)


def parted(skin: Skin) -> Skin:
    """The skin with corners that share a place (where two folds touch) drawn apart towards their neighbours."""
    corners, faces = skin[0].copy(), skin[1]
    for _ in range(5):
        _, first, count = np.unique(corners.astype(np.float32), axis=0, return_inverse=True, return_counts=True)
        shared = np.flatnonzero(count[first.ravel()] > 1)
        if not len(shared):
            return corners, faces
        for corner in shared:
            neighbours = np.unique(faces[(faces == corner).any(axis=1)])
            corners[corner] += 0.1 * (corners[neighbours].mean(axis=0) - corners[corner])
    raise RuntimeError("Corners that share a place could not be parted.")


def manifold_of(skin: Skin) -> Manifold:
    """The skin as a body of the boolean library."""
    corners, faces = skin
    body = Manifold(Mesh64(np.ascontiguousarray(corners), np.ascontiguousarray(faces, np.uint64)))
    if body.is_empty():
        raise RuntimeError(f"The skin is not a closed body: {body.status()}")
    return body


def skin_of_manifold(body: Manifold) -> Skin:
    """The body's triangles."""
    mesh = body.to_mesh64()
    return np.asarray(mesh.vert_properties)[:, :3].copy(), np.asarray(mesh.tri_verts).astype(np.int32)


def drill(entry: Triple, toward: Triple, diameter: float, length: float) -> Manifold:
    """A cylinder that starts 1 mm before `entry` and reaches `length` mm past it along `toward`."""
    direction = np.asarray(toward, float) / np.linalg.norm(toward)
    side = np.cross(direction, np.eye(3)[int(np.argmin(np.abs(direction)))])
    side /= np.linalg.norm(side)
    frame = np.column_stack([side, np.cross(direction, side), direction, np.asarray(entry) - direction])
    return Manifold.cylinder(length + 1, diameter / 2, diameter / 2, 48).transform(frame)


def hollowed(outer: Skin, cavities: Sequence[Skin], holes: Sequence[Manifold] = (), tolerance: float = 0.05) -> Skin:
    """The body less its cavities and holes; the cavities are simplified, moving at most `tolerance` mm."""
    body = manifold_of(outer)
    for cavity in cavities:
        body -= manifold_of(cavity).simplify(tolerance) if tolerance else manifold_of(cavity)
    for hole in holes:
        body -= hole
    # Corners closer than a micron could fall together in the single precision of an STL file.
    return skin_of_manifold(body.simplify(0.001) if tolerance else body)
