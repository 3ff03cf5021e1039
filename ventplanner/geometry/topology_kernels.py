"""The loops of `topology` that numpy cannot do well, compiled.

Half-edge h = 3 f + k runs from corner k of face f to the next corner; an undirected edge is known by its lower and
its higher vertex. Faces whose `skip` flag is not 0 have no edges. All results go into arrays that the caller made:
a kernel that allocates or returns arrays takes three times as long to compile.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.jit import kernel
from ventplanner.geometry.solid import FloatArray, IntArray

Flags = NDArray[np.uint8]
ShortArray = NDArray[np.float32]
LongArray = NDArray[np.int64]

PAIRED, OPEN, SAME_WAY, CROWDED = 0, 1, 2, 3
"""What is the matter with an edge: two faces in opposite directions (good), one face, two faces that run it in the
same direction, three or more faces."""
FLAT = 1e-12
"""A face is flat when its doubled area is below this share of its squared sides: rounding in float64, and a margin."""

TINY = 1e-30
"""The least area of a face that is not flat, so that float32 does not round it to 0."""


@kernel("void(Array(i4, 2, 'C', True), u1[::1], i4[::1], i4[::1])")
def bucket_edges(faces: IntArray, skip: Flags, start: IntArray, half: IntArray) -> None:
    """Counting sort of all half-edges by their lower vertex.

    faces: (m, 3) int32, skip: (m,) uint8. Fills start (n_vertices + 2,) int32, given as zeros, and half (3 m,)
    int32: the half-edges whose lower vertex is v are half[start[v]:start[v + 1]], by ascending face.
    """
    for f in range(faces.shape[0]):
        if skip[f] == 0:
            last = faces[f, 2]
            for k in range(3):
                start[min(last, faces[f, k]) + 2] += 1
                last = faces[f, k]
    for v in range(start.shape[0] - 2):
        start[v + 2] += start[v + 1]
    # start[v + 1] is where bucket v begins; while the bucket fills it moves on to where the next one begins.
    for f in range(faces.shape[0]):
        if skip[f] == 0:
            last = faces[f, 2]
            for k in range(3):
                low = min(last, faces[f, k])
                half[start[low + 1]] = 3 * f + (k + 2) % 3
                start[low + 1] += 1
                last = faces[f, k]


@kernel("void(Array(i4, 2, 'C', True), i4[::1], i4[::1], i4[::1], i4[::1], u1[::1])")
def match_edges(faces: IntArray, start: IntArray, half: IntArray, seen: IntArray, mate: IntArray, state: Flags) -> None:
    """Find the partner of every half-edge in linear time, from what `bucket_edges` filled.

    seen: (n_vertices,) int32 work space, given as -1. Fills mate (3 m,) int32, given as -1: the half-edge of the
    other face where exactly two faces share the edge; state (3 m,) uint8, given as 0: PAIRED, OPEN, SAME_WAY or
    CROWDED on the first half-edge of an edge only.

    Inside a bucket `seen[high]` holds the place of the first half-edge towards `high`. Places only grow, so one
    before the bucket's start is stale and `seen` needs no clearing.
    """
    for v in range(seen.shape[0]):
        for place in range(start[v], start[v + 1]):
            h = half[place]
            f = h // 3
            k = h - 3 * f
            a = faces[f, k]
            high = max(a, faces[f, k + 1 if k < 2 else 0])
            if seen[high] < start[v]:
                seen[high] = place
                state[h] = OPEN
                continue
            first = half[seen[high]]
            if state[first] == OPEN:
                mate[h] = first
                mate[first] = h
                f = first // 3
                state[first] = SAME_WAY if faces[f, first - 3 * f] == a else PAIRED
            elif state[first] != CROWDED:
                mate[mate[first]] = -1
                mate[first] = -1
                state[first] = CROWDED


@kernel("i8(i4[::1], u1[::1], i4[::1], i4[::1])")
def label_skins(mate: IntArray, skip: Flags, skin: IntArray, stack: IntArray) -> int:
    """Flood the faces across paired half-edges; fills skin (m,) int32, given as -1, and returns the number of skins.

    Skins are numbered in the order of their first face; skipped faces keep -1. stack: (m,) int32 work space.
    """
    n = 0
    for seed in range(skin.shape[0]):
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


@kernel("void(Array(f8, 2, 'C', True), Array(i4, 2, 'C', True), i4[::1], i4[::1], i8[:, ::1], f8[:, :, ::1], u1[::1])")
def tally_skins(
    vertices: FloatArray,
    faces: IntArray,
    skin: IntArray,
    home: IntArray,
    tallies: LongArray,
    bounds: FloatArray,
    away: Flags,
) -> None:
    """Bounds and counts of the skins, and which vertices they share; faces with a negative skin are left out.

    Fills home (n_vertices,) int32, given as -1: the skin that first used a vertex; tallies (n, 2) int64, given as 0:
    vertices at home in the skin, and its faces; bounds (n, 2, 3), given as +inf and -inf; away (m,) uint8, given as
    0: 1 where a vertex of the face has another home.
    """
    for f in range(faces.shape[0]):
        s = skin[f]
        if s < 0:
            continue
        tallies[s, 1] += 1
        for k in range(3):
            v = faces[f, k]
            if home[v] == s:
                continue
            if home[v] < 0:
                home[v] = s
                tallies[s, 0] += 1
            else:
                away[f] = 1
            for axis in range(3):
                x = vertices[v, axis]
                bounds[s, 0, axis] = min(bounds[s, 0, axis], x)
                bounds[s, 1, axis] = max(bounds[s, 1, axis], x)


@kernel("void(Array(f8, 2, 'C', True), Array(i4, 2, 'C', True), i4[::1], f8[:, ::1], f8[:, ::1], f4[::1])")
def measure_skins(
    vertices: FloatArray, faces: IntArray, skin: IntArray, centre: FloatArray, sums: FloatArray, areas: ShortArray
) -> None:
    """Signed volume and area of the skins; faces with a negative skin are left out.

    centre: (n, 3), the point about which each skin's volume is taken. Fills sums (n, 2) float64, given as 0: volume
    and area; areas (m,) float32, given as 0: the faces' areas, 0 for one that is flat up to rounding.
    """
    for f in range(faces.shape[0]):
        s, a, b, c = skin[f], faces[f, 0], faces[f, 1], faces[f, 2]
        if s < 0:
            continue
        ax, ay, az = vertices[a, 0], vertices[a, 1], vertices[a, 2]
        ux, uy, uz = vertices[b, 0] - ax, vertices[b, 1] - ay, vertices[b, 2] - az
        wx, wy, wz = vertices[c, 0] - ax, vertices[c, 1] - ay, vertices[c, 2] - az
        nx, ny, nz = uy * wz - uz * wy, uz * wx - ux * wz, ux * wy - uy * wx
        size = np.sqrt(nx * nx + ny * ny + nz * nz)
        sums[s, 0] += ((ax - centre[s, 0]) * nx + (ay - centre[s, 1]) * ny + (az - centre[s, 2]) * nz) / 6.0
        sums[s, 1] += 0.5 * size
        if size > FLAT * (ux * ux + uy * uy + uz * uz + wx * wx + wy * wy + wz * wz):
            areas[f] = max(0.5 * size, TINY)
