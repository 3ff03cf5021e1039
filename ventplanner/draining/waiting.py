"""How long to wait until what runs has run, and what clings to the walls then."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.draining.bath import Bath, Liquid, Rest
from ventplanner.draining.mouths import OUT, Mouth
from ventplanner.geometry.solid import FloatArray
from ventplanner.physics.capillarity import GRAVITY, drop_head
from ventplanner.physics.ducts import slot
from ventplanner.physics.emptying import emptying_time, exchange, film, flow_under, outflow

SLICES = 60
"""Slices of the height that a cavity drains over."""

DRIP_S = 600.0
"""Time for the film to run off at the end: it goes with the root of the time, so an hour leaves 0.41 of it (own
judgement)."""

LEAST_RUN_MM3 = 0.5
"""Less than this is not waited for."""

LEAST_SLOPE = 0.09
"""Sine of 5 degrees: walls that lie flatter are taken to slope so much (own judgement; the formula is for steep
ones)."""


def times(bath: Bath, before: FloatArray, at: Rest) -> dict[int, float]:
    """Seconds until each cavity, by its place, has run out as far as it does. before: (n,) mm3 before it was held
    so."""
    standing = bath.closed(before, at.up, plate=at.plate)
    gone = np.maximum(standing - at.liquid, 0.0)
    cells, tilt = bath.cells, bath.tilt_of(at)
    found = {}
    for k in sorted({m.cavity for m in bath.doors.mouths}):
        own = np.flatnonzero((cells.cavity == k) & (gone > 0.0))
        if gone[own].sum() < LEAST_RUN_MM3 or at.air.get(k) == "held":
            continue
        height = 0.5 * (tilt.low[own] + tilt.high[own])
        bottom, top = float(tilt.low[own].min()), float(tilt.high[own].max())
        edges = np.linspace(bottom, top, SLICES + 1)
        volume = np.histogram(height, edges, weights=gone[own])[0]
        found[k] = emptying_time(1e-9 * volume, _flow(bath, k, at, 0.5 * (edges[1:] + edges[:-1])))
    return found


def _flow(bath: Bath, cavity: int, at: Rest, surface: FloatArray) -> FloatArray:
    """m3/s out of a cavity while its surface is at these heights."""
    liquid, mouths = bath.liquid, [(n, m) for n, m in enumerate(bath.doors.mouths) if m.cavity == cavity]
    if at.air.get(cavity) in ("glugs", "shake"):
        return np.full(len(surface), max(_alone(bath, m, at.up) for _, m in mouths))
    lips = [bath.lip(n, at.up) for n, _ in mouths]
    lowest, flow = min(lips), np.zeros(len(surface))
    for (_, m), lip in zip(mouths, lips, strict=True):
        head = np.where(surface > lip, surface - lip, 0.0)
        size = 0.001 * m.hydraulic, 0.001 * max(m.length, 0.1), liquid.viscosity, liquid.density
        q = outflow(0.001 * head, *size, section=m.section)
        flow += np.where((surface > lip) | (lip <= lowest), q, 0.0)
    return flow


def _alone(bath: Bath, mouth: Mouth, up: FloatArray) -> float:
    """m3/s out of a mouth that air comes in by, too. Of a slit liquid takes one half and air the other; what drives it
    is by how much one end lies above the other beyond what surface tension holds, at least as much as that holds back
    if it is shaken or turns over by itself (own judgement)."""
    liquid = bath.liquid
    if not mouth.is_slit:
        return exchange(0.001 * mouth.width, liquid.viscosity, liquid.tension, liquid.density)
    wide, held = 0.001 * mouth.hydraulic, drop_head(liquid.tension, liquid.density, 0.001 * mouth.hydraulic)
    head = max(bath.apart(mouth, mouth, up), held)
    half = slot(0.001 * mouth.width, max(0.0005 * mouth.long, 0.001 * mouth.width))
    size = wide, 0.001 * max(mouth.length, 0.1), liquid.viscosity, liquid.density
    # The fall through the wall drives nothing: air rises as far.
    return float(flow_under(np.array([liquid.density * GRAVITY * head]), *size, section=half)[0])


def wait(bath: Bath, before: FloatArray, at: Rest) -> float:
    """Seconds to wait: cavities that drain through each other one after the other, all others at once."""
    found = times(bath, before, at)
    joined = any(m.beyond != OUT and m.cavity in found for m in bath.doors.mouths)
    return sum(found.values()) if joined else max(found.values(), default=0.0)


def thicker(bath: Bath, viscosity: float) -> Bath:
    """The same with a liquid of another viscosity."""
    return replace(bath, liquid=Liquid(viscosity, bath.liquid.density, bath.liquid.tension))


def film_volume(findings: Findings, bath: Bath, at: Rest, seconds: float) -> float:
    """mm3 on the inner skins after draining for some time: Jeffreys' mean film on each face, as long as the cavity is
    high.

    What lies below the surface of a pool counts as well; it is little.
    """
    scene, total = findings.scene, 0.0
    corners = scene.vertices[scene.solid.faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = 0.5 * np.linalg.norm(normal, axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        level = np.abs(normal @ at.up) / np.maximum(2.0 * area, 1e-300)
    steep = np.maximum(np.sqrt(np.maximum(1.0 - level**2, 0.0)), LEAST_SLOPE)
    for k, cavity in enumerate(findings.cavities):
        if not any(m.cavity == k for m in bath.doors.mouths) or at.air.get(k) == "held" or not len(cavity.faces):
            continue
        along = corners[cavity.faces] @ at.up
        length = 0.001 * float(along.max() - along.min())
        thick = 2.0 / 3.0 * film(length, max(seconds, 1.0), bath.liquid.viscosity, bath.liquid.density)
        total += float((1000.0 * thick / np.sqrt(steep[cavity.faces])) @ area[cavity.faces])
    return total
