"""An irregular mesh that was not made for this project: a cow, hollowed here."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

import numpy as np
import trimesh
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter
from scipy.spatial import cKDTree
from skimage.measure import marching_cubes

COW = Path(__file__).parent / "data" / "spot.ply"
COW_SHA256 = "2d24cc184dec9a03c32281312f7d2e44f70b51180d982dc0a81899e77efc275a"

Vertices = NDArray[np.float64]
Faces = NDArray[np.int32]


@cache
def cow(length: float = 60.0) -> tuple[Vertices, Faces]:
    """The cow as it comes, but standing on z = 0 and `length` mm long: 2930 vertices, 5856 faces, closed."""
    content = COW.read_bytes()
    if hashlib.sha256(content).hexdigest() != COW_SHA256:
        raise RuntimeError(f"{COW} is not the file this test was written for; restore it from the repository.")
    mesh = trimesh.load_mesh(COW, process=False)
    # The file has y up and looks along z; here z is up and the cow looks along -y.
    vertices = np.column_stack([mesh.vertices[:, 0], -mesh.vertices[:, 2], mesh.vertices[:, 1]])
    vertices *= length / np.ptp(vertices[:, 1])
    return vertices - [0, 0, vertices[:, 2].min()], np.asarray(mesh.faces, np.int32)


@cache
def hollow_cow(wall: float = 2.5, length: float = 60.0, step: float = 0.75) -> tuple[Vertices, Faces]:
    """The cow with an inner skin `wall` mm inside the outer one: sealed, legs, horns and ears hollow where wide enough.

    Vertices (n, 3) float64 in mm, faces (m, 3) int32, the inner skin turned inward. The hollow is the level set of the
    distance to a dense sample of the outer skin, so it is right to about 0.05 mm away from creases, where it is smooth.
    """
    vertices, faces = cow(length)
    outer = trimesh.Trimesh(vertices, faces, process=False)
    depth, low = _depth(outer, step)
    corners, triangles, _, _ = marching_cubes(depth - wall, 0.0)
    inner = trimesh.Trimesh(corners * step + low, triangles, process=False)
    # Only hollows that could hold a vent; a wide enough place in an ear or a horn gives a speck.
    pieces = [piece for piece in inner.split(only_watertight=False) if abs(piece.volume) > 20.0]
    for piece in pieces:
        if piece.volume > 0:
            piece.invert()
    whole = trimesh.util.concatenate([outer, *pieces])
    return np.asarray(whole.vertices, np.float64), np.asarray(whole.faces, np.int32)


def _depth(outer: trimesh.Trimesh, step: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Depth below the skin in mm on a grid (0 outside), and the grid's lowest corner."""
    low, high = outer.bounds[0] - 2 * step, outer.bounds[1] + 2 * step
    shape = np.ceil((high - low) / step).astype(int) + 1
    dense = outer.subdivide_to_size(0.5)
    inside = np.zeros(shape, bool)
    for k in range(shape[2]):
        inside[:, :, k] = _inside_layer(outer, low, step, shape, k)
    at = np.argwhere(inside)
    depth = np.zeros(shape)
    depth[inside] = cKDTree(dense.vertices).query(at * step + low)[0]
    return gaussian_filter(depth, 0.8), low


def _inside_layer(
    outer: trimesh.Trimesh, low: NDArray[np.float64], step: float, shape: NDArray[np.int64], k: int
) -> NDArray[np.bool_]:
    """Which grid points of layer k are inside: parity of the crossings of the layer's outline, row by row along x."""
    layer = np.zeros((shape[0], shape[1]), bool)
    # Off the grid by a hair, so that no point lies on an outline and no row goes through a corner of it.
    cut = trimesh.intersections.mesh_plane(outer, [0, 0, 1], [0, 0, low[2] + (k + 1.3e-4) * step])
    if not len(cut):
        return layer
    (ax, ay), (bx, by) = cut[:, 0, :2].T, cut[:, 1, :2].T
    rows = low[1] + (np.arange(shape[1]) + 1.7e-4) * step
    columns = low[0] + (np.arange(shape[0]) + 1.1e-4) * step
    for j, y in enumerate(rows):
        hit = (ay > y) != (by > y)
        x = np.sort(ax[hit] + (y - ay[hit]) * (bx[hit] - ax[hit]) / (by[hit] - ay[hit]))
        layer[:, j] = np.searchsorted(x, columns) % 2 == 1
    return layer
