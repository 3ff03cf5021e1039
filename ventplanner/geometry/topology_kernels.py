"""The loops of `topology` that numpy cannot do well, compiled. All take and return plain arrays.

Half-edge h = 3 f + k runs from corner k of face f to the next corner. An undirected edge is known by its lower and
its higher vertex. Faces whose `skip` flag is set have no edges.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.jit import kernel
from ventplanner.geometry.solid import FloatArray, IntArray

Flags = NDArray[np.uint8]
Counts = NDArray[np.int64]

PAIRED, OPEN, SAME_WAY, CROWDED = 0, 1, 2, 3
"""What is the matter with an edge: two faces in opposite directions (good), one face, two faces that run it in the
same direction, three or more faces."""


@kernel("Tuple((i4[::1], u1[::1], i8[::1]))(Array(i4, 2, 'C', True), u1[::1], i8)")
def match_edges(faces: IntArray, skip: Flags, n_vertices: int) -> tuple[IntArray, Flags, Counts]:
    """Find the partner of every half-edge in linear time.

    faces: (m, 3) int32, read-only is fine. skip: (m,) uint8. Returns mate (3 m,) int32: the half-edge of the other
    face where exactly two faces share the edge, else -1; state (3 m,) uint8: PAIRED, OPEN, SAME_WAY or CROWDED, set
    on the first half-edge of an edge only and PAIRED (0) on the others; counts (4,) int64 of edges by state.

    Half-edges are bucketed by their lower vertex (counting sort); inside a bucket `seen[high]` holds the place of
    the first half-edge towards `high`. Places only grow, so one before the bucket's start is stale and `seen` needs
    no clearing.
    """
    m = faces.shape[0]
    start = np.zeros(n_vertices + 2, np.int32)
    for f in range(m):
        if skip[f] == 0:
            a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
            start[min(a, b) + 2] += 1
            start[min(b, c) + 2] += 1
            start[min(c, a) + 2] += 1
    for v in range(n_vertices):
        start[v + 2] += start[v + 1]
    half = np.empty(3 * m, np.int32)
    for f in range(m):
        if skip[f] == 0:
            a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
            low = min(a, b) + 1
            half[start[low]] = 3 * f
            start[low] += 1
            low = min(b, c) + 1
            half[start[low]] = 3 * f + 1
            start[low] += 1
            low = min(c, a) + 1
            half[start[low]] = 3 * f + 2
            start[low] += 1
    mate = np.full(3 * m, -1, np.int32)
    state = np.zeros(3 * m, np.uint8)
    counts = np.zeros(4, np.int64)
    seen = np.full(n_vertices, -1, np.int32)
    for v in range(n_vertices):
        for place in range(start[v], start[v + 1]):
            h = half[place]
            f, k = h // 3, h % 3
            a, b = faces[f, k], faces[f, (k + 1) % 3]
            high = max(a, b)
            if seen[high] < start[v]:
                seen[high] = place
                state[h] = OPEN
                counts[OPEN] += 1
                continue
            first = half[seen[high]]
            counts[state[first]] -= 1
            if state[first] == OPEN:
                mate[h] = first
                mate[first] = h
                state[first] = SAME_WAY if faces[first // 3, first % 3] == a else PAIRED
            elif state[first] != CROWDED:
                mate[mate[first]] = -1
                mate[first] = -1
                state[first] = CROWDED
            counts[state[first]] += 1
    return mate, state, counts


@kernel("i8(i4[::1], u1[::1], i4[::1])")
def label_skins(mate: IntArray, skip: Flags, skin: IntArray) -> int:
    """Flood the faces across paired half-edges; fills skin (m,) int32 (skipped faces keep theirs), returns the count.

    Skins are numbered in the order of their first face.
    """
    m = skin.shape[0]
    stack = np.empty(m, np.int32)
    n = 0
    for seed in range(m):
        if skip[seed] != 0 or skin[seed] >= 0:
            continue
        skin[seed] = n
        stack[0] = seed
        top = 1
        while top > 0:
            top -= 1
            f = stack[top]
            for k in range(3):
                h = mate[3 * f + k]
                if h >= 0 and skin[h // 3] < 0:
                    skin[h // 3] = n
                    stack[top] = h // 3
                    top += 1
        n += 1
    return n


@kernel(
    "Tuple((f8[:, ::1], i8[:, ::1], i4[::1], u1[::1]))"
    "(Array(f8, 2, 'C', True), Array(i4, 2, 'C', True), i4[::1], u1[::1], i8)"
)
def measure_skins(
    vertices: FloatArray, faces: IntArray, skin: IntArray, skip: Flags, n_skins: int
) -> tuple[FloatArray, Counts, IntArray, Flags]:
    """Per skin sums over its faces.

    Returns measures (n, 11) float64: lowest corner, highest corner, signed volume, sum of face normals (of length
    twice the area), area; volumes are taken about the centre of the skin's bounds, so that they mean something for
    an open skin too. tallies (n, 2) int64: vertices, faces. home (n_vertices,) int32: the skin that first used a
    vertex, else -1. odd (m,) uint8: 1 where a vertex of the face has another home (not yet tallied for this skin),
    2 added where the area is zero up to rounding.
    """
    measures = np.zeros((n_skins, 11))
    tallies = np.zeros((n_skins, 2), np.int64)
    first = np.full(n_skins, -1, np.int32)
    home = np.full(vertices.shape[0], -1, np.int32)
    odd = np.zeros(faces.shape[0], np.uint8)
    for s in range(n_skins):
        measures[s, 0:3] = np.inf
        measures[s, 3:6] = -np.inf
    for f in range(faces.shape[0]):
        if skip[f] != 0:
            continue
        s = skin[f]
        tallies[s, 1] += 1
        for k in range(3):
            v = faces[f, k]
            if first[s] < 0:
                first[s] = v
            if home[v] < 0:
                home[v] = s
                tallies[s, 0] += 1
                for axis in range(3):
                    x = vertices[v, axis]
                    measures[s, axis] = min(measures[s, axis], x)
                    measures[s, axis + 3] = max(measures[s, axis + 3], x)
            elif home[v] != s:
                odd[f] = 1
                for axis in range(3):
                    x = vertices[v, axis]
                    measures[s, axis] = min(measures[s, axis], x)
                    measures[s, axis + 3] = max(measures[s, axis + 3], x)
        a, b, c, o = faces[f, 0], faces[f, 1], faces[f, 2], first[s]
        ax, ay, az = vertices[a, 0], vertices[a, 1], vertices[a, 2]
        ux, uy, uz = vertices[b, 0] - ax, vertices[b, 1] - ay, vertices[b, 2] - az
        wx, wy, wz = vertices[c, 0] - ax, vertices[c, 1] - ay, vertices[c, 2] - az
        nx, ny, nz = uy * wz - uz * wy, uz * wx - ux * wz, ux * wy - uy * wx
        size = np.sqrt(nx * nx + ny * ny + nz * nz)
        if size <= 1e-12 * (ux * ux + uy * uy + uz * uz + wx * wx + wy * wy + wz * wz):
            odd[f] += 2
        measures[s, 6] += (ax - vertices[o, 0]) * nx + (ay - vertices[o, 1]) * ny + (az - vertices[o, 2]) * nz
        measures[s, 7] += nx
        measures[s, 8] += ny
        measures[s, 9] += nz
        measures[s, 10] += size
    for s in range(n_skins):
        for axis in range(3):
            centre = 0.5 * (measures[s, axis] + measures[s, axis + 3])
            measures[s, 6] -= (centre - vertices[first[s], axis]) * measures[s, 7 + axis]
        measures[s, 6] /= 6.0
        measures[s, 10] /= 2.0
    return measures, tallies, home, odd
