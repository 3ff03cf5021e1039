"""Compiled loops for the printed raster: layers lit one after the other from the last to the first, a band at a time.

A band is some rows of pixels with a halo of rows on either side. Its planes hold `pad` empty pixels on the left and on
the right of whole blocks of BLOCK pixels: pixel x of row y stands at y * width + pad + x, width = BLOCK * blocks +
2 * pad. `size` is (rows, blocks, pad, halo, radius, settle): rows with both halos; radius: pixels that the blur
reaches; settle: layers after which a dose no longer changes when its mask does not.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ventplanner.geometry.jit import (
    F4,
    F8,
    I8,
    IN_F4_1,
    IN_F8_1,
    IN_I4_1,
    IN_I8_1,
    IN_U1_1,
    OUT_F4_1,
    OUT_F8_1,
    OUT_I4_1,
    OUT_I8_1,
    OUT_U1_1,
    VOID,
    kernel,
)

BLOCK = 64
"""Pixels of a row that are looked at together."""


@kernel(I8(F8, F8, I8))
def first_layer(z: float, layer: float, n: int) -> int:
    """The first of n layers whose middle is not below z; a middle that lies on z within rounding counts."""
    if z <= 0.0:
        return 0
    if z >= (n + 1) * layer:
        return n
    return min(n, int(np.ceil(z / layer - 0.5 - 1e-6)))


@kernel(VOID(IN_I8_1, IN_F8_1, IN_F8_1, IN_I8_1, F8, I8, OUT_I8_1, OUT_I4_1))
def mask_changes(offsets: Any, z0: Any, z1: Any, place: Any, layer: float, fill: int, cursor: Any, where: Any) -> None:
    """Count (fill = 0) or list (1) the pixels whose mask changes between layer b - 1 and layer b, for each b.

    place: first column, columns, columns in a row, first row of the band, width, pad, layers n. cursor: (n + 2,) counts
    in [b + 1], or the next free place in [b]. Two changes of a pixel at one height are none.
    """
    first, count, nx, first_row, width, pad, n = place[0], place[1], place[2], place[3], place[4], place[5], place[6]
    for column in range(first, first + count):
        at = (column // nx - first_row) * width + pad + column % nx
        for run in range(offsets[column], offsets[column + 1]):
            for end in range(2):
                if end == 1 and z1[run] == np.inf:
                    continue
                b = first_layer(z0[run] if end == 0 else z1[run], layer, n)
                if b < 1:
                    continue
                if fill:
                    where[cursor[b]] = at
                    cursor[b] += 1
                else:
                    cursor[b + 1] += 1


@kernel(VOID(IN_I8_1, IN_U1_1, IN_I4_1, OUT_I4_1, OUT_U1_1))
def spread_mask(size: Any, mask: Any, span: Any, gap: Any, out: Any) -> None:
    """A mask grown sideways: a pixel is lit if, in some row y + dy, a lit one lies within span[dy + s] pixels along x.

    span: (2 s + 1,) int32. gap: (rows * width,) room for each pixel's distance along its row to the nearest lit one.
    """
    rows, width, s = size[0], BLOCK * size[1] + 2 * size[2], span.shape[0] // 2
    far = 1 << 20
    for y in range(rows):
        d = far
        for p in range(y * width, (y + 1) * width):
            d = 0 if mask[p] else d + 1
            gap[p] = d
        d = far
        for p in range((y + 1) * width - 1, y * width - 1, -1):
            d = 0 if mask[p] else d + 1
            gap[p] = min(gap[p], d)
    for p in range(rows * width):
        out[p] = 0
    for y in range(rows):
        for dy in range(max(-s, -y), min(s, rows - 1 - y) + 1):
            reach, here, there = span[dy + s], y * width, (y + dy) * width
            for x in range(width):
                out[here + x] |= gap[there + x] <= reach


@kernel(VOID(IN_I8_1, IN_I4_1, I8, I8, OUT_U1_1, OUT_I4_1, OUT_I4_1))
def turn(size: Any, where: Any, first: int, last: int, mask: Any, filled: Any, age: Any) -> None:
    """Turn the listed pixels of the mask over; keep count of the lit ones in each block."""
    blocks, pad = size[1], size[2]
    width = BLOCK * blocks + 2 * pad
    for e in range(first, last):
        p = where[e]
        k = p // width * blocks + (p % width - pad) // BLOCK
        mask[p] ^= 1
        filled[k] += 1 if mask[p] else -1
        age[k] = 0


@kernel(VOID(IN_I8_1, F4, F4, IN_U1_1, IN_I4_1, OUT_I4_1, OUT_F4_1, OUT_U1_1, OUT_U1_1))
def light_layer(
    size: Any, q: float, light: float, mask: Any, filled: Any, age: Any, dose: Any, changed: Any, live: Any
) -> None:
    """One more layer of light through a mask, in every block that has not settled; and say which changed, and which
    hold any light."""
    rows, blocks, pad, settle = size[0], size[1], size[2], size[5]
    width = BLOCK * blocks + 2 * pad
    steady = np.float32(light / (np.float32(1.0) - q))
    for y in range(rows):
        for b in range(blocks):
            k = y * blocks + b
            if age[k] > settle:
                changed[k] = 0
                live[k] = 1 if filled[k] > 0 else 0
                continue
            first = y * width + pad + b * BLOCK
            # Slices: their indices cannot be negative, so the loops over them become vector instructions.
            d, m = dose[first : first + BLOCK], mask[first : first + BLOCK]
            keep, add = (q, light) if age[k] < settle else (np.float32(0.0), steady)
            for i in range(BLOCK):
                d[i] = keep * d[i] + add * np.float32(m[i])
            changed[k] = live[k] = 1
            age[k] += 1


@kernel(VOID(IN_I8_1, IN_U1_1, OUT_U1_1))
def reach_sideways(size: Any, flag: Any, out: Any) -> None:
    """Blocks whose blur reaches a flagged block of their own row."""
    rows, blocks = size[0], size[1]
    near = (size[4] + BLOCK - 1) // BLOCK
    for y in range(rows):
        for b in range(blocks):
            found = 0
            for other in range(max(0, b - near), min(blocks, b + near + 1)):
                found |= flag[y * blocks + other]
            out[y * blocks + b] = found


@kernel(VOID(IN_I8_1, I8, IN_U1_1, OUT_I4_1))
def slide(size: Any, y: int, flag: Any, window: Any) -> None:
    """Move a window of 2 radius + 1 rows on to its last row y; window: (blocks,) flagged blocks in it."""
    blocks, old = size[1], y - 2 * size[4] - 1
    for b in range(blocks):
        window[b] += flag[y * blocks + b]
        if old >= size[3] - size[4]:
            window[b] -= flag[old * blocks + b]


@kernel(VOID(IN_I8_1, I8, I8, I8, IN_F4_1, IN_F4_1, OUT_F4_1, OUT_I4_1, OUT_F4_1))
def blurred(size: Any, y: int, b: int, layer: int, weight: Any, dose: Any, along: Any, stamp: Any, out: Any) -> None:
    """The blurred dose of one block, (BLOCK,). weight: (radius + 1,) of the kernel, from its middle outwards.

    Rows blurred along x are kept in `along`; stamp: (rows * blocks,) the layer for which they hold.
    """
    blocks, pad, radius = size[1], size[2], size[4]
    width = BLOCK * blocks + 2 * pad
    for i in range(BLOCK):
        out[i] = np.float32(0.0)
    for dy in range(-radius, radius + 1):
        k = (y + dy) * blocks + b
        first = (y + dy) * width + pad + b * BLOCK
        if stamp[k] != layer:
            stamp[k] = layer
            a, d = along[first : first + BLOCK], dose[first : first + BLOCK]
            for i in range(BLOCK):
                a[i] = weight[0] * d[i]
            for w in range(1, radius + 1):
                g = weight[w]
                left, right = dose[first - w : first - w + BLOCK], dose[first + w : first + w + BLOCK]
                for i in range(BLOCK):
                    a[i] += g * (left[i] + right[i])
        g, row = weight[abs(dy)], along[first : first + BLOCK]
        for i in range(BLOCK):
            out[i] += g * row[i]


@kernel(
    I8(
        IN_I8_1, IN_F4_1, IN_F4_1, I8, IN_I4_1, IN_I8_1, IN_I4_1,
        OUT_U1_1, OUT_U1_1, OUT_U1_1, OUT_I4_1, OUT_F4_1, OUT_F4_1,
        OUT_I4_1, OUT_I4_1, OUT_I4_1, OUT_U1_1, OUT_U1_1, OUT_U1_1, OUT_U1_1,
        OUT_I4_1, OUT_I4_1, OUT_F4_1, OUT_I4_1, OUT_I4_1,
    )
)  # fmt: skip
def expose(
    size: Any,
    weight: Any,
    light: Any,
    base: int,
    span: Any,
    starts: Any,
    where: Any,
    mask: Any,
    printed: Any,
    grown: Any,
    gap: Any,
    dose: Any,
    along: Any,
    filled: Any,
    age: Any,
    stamp: Any,
    changed: Any,
    live: Any,
    near: Any,
    lit: Any,
    window: Any,
    seen: Any,
    value: Any,
    out_where: Any,
    out_layer: Any,
) -> int:
    """Light the layers of a band from the last to the first; list where its printed raster changes. Returns how often.

    light: (n + 1,) dose each layer gives its own middle, and last the share that one layer lets through. base: so many
    first layers are lit through the mask grown by `span`. starts, where: changes of the mask. mask to along: planes;
    filled to lit: of all blocks; window to value: of one row, and of one block; all 0 but age, which is settle + 1, and
    stamp, which is -1 (made by the caller: that compiles much faster). out_where, out_layer: pixels of the band's own
    rows that differ between layers b - 1 and b, by falling b; what finds no room is counted.
    """
    n, q = light.shape[0] - 1, light[light.shape[0] - 1]
    rows, blocks, pad, halo, radius = size[0], size[1], size[2], size[3], size[4]
    width = BLOCK * blocks + 2 * pad
    one, count = np.float32(1.0), 0
    for layer in range(n - 1, -1, -1):
        turn(size, where, starts[layer + 1], starts[layer + 2], mask, filled, age)
        if layer < base:
            for k in range(rows * blocks):
                age[k] = 0
            spread_mask(size, mask, span, gap, grown)
            light_layer(size, q, light[layer], grown, filled, age, dose, changed, live)
        else:
            light_layer(size, q, light[layer], mask, filled, age, dose, changed, live)
        reach_sideways(size, changed, near)
        reach_sideways(size, live, lit)
        for b in range(blocks):
            window[b] = seen[b] = 0
        for y in range(halo - radius, rows - halo + radius):
            slide(size, y, near, window)
            slide(size, y, lit, seen)
            if y - radius < halo:
                continue
            for b in range(blocks):
                if window[b] == 0:
                    continue
                whole = filled[(y - radius) * blocks + b] == BLOCK
                if seen[b] > 0 and not whole:
                    blurred(size, y - radius, b, layer, weight, dose, along, stamp, value)
                else:
                    for i in range(BLOCK):
                        value[i] = np.float32(0.0)
                first = (y - radius) * width + pad + b * BLOCK
                m, was = mask[first : first + BLOCK], printed[first : first + BLOCK]
                for i in range(BLOCK):
                    solid = 1 if (m[i] != 0 or value[i] >= one) else 0
                    if solid != was[i]:
                        was[i] = solid
                        if count < out_where.shape[0]:
                            out_where[count] = first + i
                            out_layer[count] = layer + 1
                        count += 1
    return count


@kernel(I8(IN_I8_1, IN_F8_1, IN_F8_1, I8, I8, F8, I8))
def run_of_layer(offsets: Any, z0: Any, z1: Any, column: int, k: int, layer: float, n: int) -> int:
    """The void run of a column that holds the middle of layer k, -1 if it is material."""
    for run in range(offsets[column], offsets[column + 1]):
        if first_layer(z0[run], layer, n) <= k < first_layer(z1[run], layer, n):
            return run
    return -1


@kernel(
    I8(
        IN_I8_1, IN_F8_1, IN_F8_1, IN_I4_1, IN_I8_1, F8, IN_I4_1, IN_I4_1,
        OUT_I4_1, OUT_I8_1, OUT_I8_1, OUT_F8_1, OUT_F8_1, OUT_I4_1,
    )
)  # fmt: skip
def runs_of_changes(
    offsets: Any,
    z0: Any,
    z1: Any,
    void_class: Any,
    place: Any,
    layer: float,
    where: Any,
    height: Any,
    sorted_height: Any,
    starts: Any,
    new_offsets: Any,
    new0: Any,
    new1: Any,
    new_class: Any,
) -> int:
    """Void runs of a band's columns from the changes of its printed raster (`expose`), by rising z. Returns how many.

    place: as for `mask_changes`. starts: (columns + 1,) room. A run keeps the class of the void run that it lies in; -2
    if it lies in several.
    """
    first, count, nx, first_row, width, pad, n = place[0], place[1], place[2], place[3], place[4], place[5], place[6]
    for c in range(count + 1):
        starts[c] = 0
    for e in range(where.shape[0]):
        starts[(where[e] // width + first_row) * nx + where[e] % width - pad - first + 1] += 1
    for c in range(count):
        starts[c + 1] += starts[c]
    for e in range(where.shape[0]):  # falling heights: each column is filled from its end
        c = (where[e] // width + first_row) * nx + where[e] % width - pad - first
        starts[c + 1] -= 1
        sorted_height[starts[c + 1]] = height[e]
    m = 0
    for c in range(count):
        new_offsets[c] = m
        begin = starts[c + 1]
        end = starts[c + 2] if c + 1 < count else where.shape[0]
        e = begin - 1 if (end - begin) % 2 == 0 else begin
        while e < end:
            low = sorted_height[e] if e >= begin else 0
            high = sorted_height[e + 1] if e + 1 < end else n
            column = first + c
            lower = offsets[column] if e < begin else run_of_layer(offsets, z0, z1, column, low, layer, n + 1)
            last = offsets[column + 1] - 1
            upper = last if e + 1 >= end else run_of_layer(offsets, z0, z1, column, high - 1, layer, n + 1)
            new0[m] = low * layer if e >= begin else -np.inf
            new1[m] = high * layer if e + 1 < end else np.inf
            new_class[m] = void_class[lower] if lower == upper and lower >= 0 else -2
            m += 1
            e += 2
    new_offsets[count] = m
    return m


@kernel(VOID(IN_I8_1, IN_F8_1, IN_F8_1, IN_F8_1, F8, OUT_U1_1))
def states_in_layer(offsets: Any, z0: Any, z1: Any, opens: Any, z: float, out: Any) -> None:
    """What each column holds at height z: 0 material, 1 void open to above or below, 2 other void, 3 sealed void.

    opens: (runs,) height from which a run is joined to the outside; or (0,), and nothing is sealed.
    """
    for column in range(offsets.shape[0] - 1):
        found = 0
        for run in range(offsets[column], offsets[column + 1]):
            if z0[run] > z:
                break
            if z < z1[run]:
                sky = z0[run] <= 0.0 or z1[run] == np.inf
                found = 3 if opens.shape[0] > 0 and opens[run] > z else (1 if sky else 2)
                break
        out[column] = found
