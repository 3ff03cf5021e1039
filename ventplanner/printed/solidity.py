"""How far each cell of a small box is from the printed wall: the exact dose of the package's model, cell by cell."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation
from scipy.special import ndtri

from ventplanner.geometry.columns import Tool
from ventplanner.geometry.solid import FloatArray
from ventplanner.printed.light import Light, blur
from ventplanner.printed.part import BoolArray, Box, PixelPart, material_in

Solidity = NDArray[np.float32]
"""(nz, ny, nx): pixels from the middle of a cell to the printed wall, sideways: 0 and more in solid cells, below 0 in
void ones; EDGE at the most either way for what the mask alone decides."""

EDGE = np.float32(0.5)
"""From the middle of a pixel to its edge, where the wall of a mask is."""

LEAST = np.float32(1e-6)
"""A void cell is at least so many pixels on its side of the wall."""

FAR = 8.0
"""Standard deviations of the blur to which doses are told apart: farther ones tell nothing about the wall."""


def solidity_in(part: PixelPart, box: Box, tools: Sequence[Tool], *, all_causes: bool = False) -> list[Solidity]:
    """A box as the raster alone makes it, then with bleed, with print-through, and with base layers as well.

    all_causes: only the last of these.
    """
    light, edge = part.light, part.light.margin
    wide = box.grown(edge, min(light.settle + 1, max(0, light.layers - box.k1)))
    mask = material_in(part, wide, tools)
    layers = np.arange(wide.k0, wide.k1)
    here = np.clip(layers, 0, light.layers - 1)
    exists = (layers >= 0) & (layers < light.layers)
    core = slice(0, box.shape[0]), slice(edge, edge + box.shape[1]), slice(edge, edge + box.shape[2])
    stages = [np.where(mask[core], EDGE, -EDGE)]
    own = np.where(exists, light.ordinary[here], 0.0)
    plain = blur(light, mask.astype(np.float32))
    under = own[: box.shape[0]]
    stages.append(_more(stages, plain[core] * under[:, None, None].astype(np.float32), under, light))
    summed, whole = _summed(plain, own, light.through)[core], _whole(own, light.through)[: box.shape[0]]
    stages.append(_more(stages, summed, whole, light))
    base = np.flatnonzero(exists & (layers < light.base))
    if len(base):
        plain[base] = blur(light, _spread(light, mask[base]).astype(np.float32))
        own = np.where(exists, light.own[here], 0.0)
        summed, whole = _summed(plain, own, light.through)[core], _whole(own, light.through)[: box.shape[0]]
        stages.append(_more(stages, summed, whole, light))
    else:
        stages.append(stages[-1])
    if part.on_plate:  # no resin lies below it: what is lit down there is plate
        for stage in stages:
            stage[np.arange(box.k0, box.k1) < 0] = -EDGE
    return stages[-1:] if all_causes else stages


def printed_in(part: PixelPart, box: Box, tools: Sequence[Tool], *, all_causes: bool = False) -> list[BoolArray]:
    """Void cells of a box at the stages of `solidity_in`."""
    return [np.asarray(stage < 0.0) for stage in solidity_in(part, box, tools, all_causes=all_causes)]


def _more(before: Sequence[Solidity], dose: FloatArray, whole: FloatArray, light: Light) -> Solidity:
    """The last stage with a dose as well. whole: (nz,) dose of each layer where all is lit, above it too.

    Beside a straight edge the dose is whole * Phi(d / blur), d mm inside the edge (Phi: the normal distribution): so
    its inverse tells d, and where that is for the dose that just cures, without an error between pixels.
    """
    cured = dose >= 1.0
    if light.radius > 0:
        full = np.maximum(whole, 1e-9)[:, None, None].astype(np.float32)
        most = np.float32(1e30)
        share = np.clip(dose / full, 0.0, 1.0)
        # From the darker half of the edge; the lighter half mirrors it, where 1 - share would be rounded away.
        inside = np.clip(ndtri(share.astype(np.float32)), -FAR, FAR)
        at = np.clip(ndtri(np.minimum(1.0, 1.0 / np.minimum(full, most)).astype(np.float32)), -FAR, FAR)
        found = (light.profile.blur_mm / light.pixel) * (inside - at)
    else:
        found = np.where(cured, EDGE, -EDGE)
    found = np.where(cured, np.maximum(found, 0.0), np.clip(found, -EDGE, -LEAST)).astype(np.float32)
    return np.asarray(np.maximum(found, before[-1]))


def _spread(light: Light, mask: BoolArray) -> BoolArray:
    s = len(light.span) // 2
    disc = np.abs(np.arange(-s, s + 1))[None, :] <= light.span[:, None]
    return np.asarray(binary_dilation(mask, disc[None]))


def _summed(blurred: FloatArray, own: FloatArray, through: float) -> FloatArray:
    """Doses of all layers from each one up, dimmed by what lies between."""
    out = np.empty_like(blurred)
    dose = np.zeros(blurred.shape[1:], dtype=blurred.dtype)
    for k in range(len(blurred) - 1, -1, -1):
        dose = through * dose + own[k] * blurred[k]
        out[k] = dose
    return out


def _whole(own: FloatArray, through: float) -> FloatArray:
    """(nz,) the same where everything is lit."""
    return _summed(np.ones((len(own), 1, 1)), own, through)[:, 0, 0]
