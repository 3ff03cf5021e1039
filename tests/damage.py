"""Damage of every class, put into a triangle soup (m, 3, 3); and two parts with cavities to put it into."""

from __future__ import annotations

from collections.abc import Callable

import bodies
import numpy as np
from numpy.typing import NDArray

from ventplanner.geometry.solid import Solid
from ventplanner.geometry.weld import weld

Soup = NDArray[np.float64]
Rng = np.random.Generator
Damage = Callable[[Soup, Rng], Soup]


def nested_balls() -> Solid:
    """A hollow ball with a solid one loose in it: three skins."""
    return bodies.solid(bodies.ball(12.0), bodies.inward(bodies.ball(10.0)), bodies.ball(4.0, fine=3))


def bell() -> Solid:
    """A cone with a conical cavity: sharp rims, flat floors with fans of long triangles."""
    outer, inner = bodies.cone(10, 20), bodies.inward(bodies.cone(6, 12, (0, 0, 2)))
    return bodies.solid(*(mesh.subdivide().subdivide().subdivide() for mesh in (outer, inner)))


def soup(solid: Solid) -> Soup:
    return solid.vertices[solid.faces]


def as_read(triangles: Soup) -> Solid:
    """As the reader of files makes it."""
    return Solid(*weld(np.ascontiguousarray(triangles)))


def _some(triangles: Soup, rng: Rng, count: int) -> NDArray[np.int64]:
    return rng.choice(len(triangles), count, replace=False)


def _near(triangles: Soup, rng: Rng, radius: float) -> NDArray[np.bool_]:
    middle = triangles.mean(axis=1)
    near: NDArray[np.bool_] = np.linalg.norm(middle - middle[rng.integers(len(middle))], axis=1) < radius
    return near


def missing(t: Soup, rng: Rng) -> Soup:
    return np.delete(t, _some(t, rng, 20), axis=0)


def patch_missing(t: Soup, rng: Rng) -> Soup:
    return t[~_near(t, rng, 0.6)]


def not_welded(t: Soup, rng: Rng) -> Soup:
    return t + rng.uniform(-1e-4, 1e-4, t.shape) * (rng.random((len(t), 1, 1)) < 0.1)


def flipped(t: Soup, rng: Rng) -> Soup:
    return np.where((rng.random(len(t)) < 0.15)[:, None, None], t[:, ::-1], t)


def repeated(t: Soup, rng: Rng) -> Soup:
    return np.vstack([t, t[_some(t, rng, 30)]])


def back_to_back(t: Soup, rng: Rng) -> Soup:
    return np.vstack([t, t[_near(t, rng, 1.5)][:, ::-1], t[_some(t, rng, 10)][:, ::-1]])


def degenerate(t: Soup, rng: Rng) -> Soup:
    more = t[_some(t, rng, 20)].copy()
    more[:, 2] = more[:, 1]
    return np.vstack([t, more])


def flat(t: Soup, rng: Rng) -> Soup:
    """An edge with a vertex on it that only one of its faces knows, and a face without area between."""
    t, f = t.copy(), _some(t, rng, 20)
    a, b, c = t[f, 0], t[f, 1], t[f, 2]
    m = 0.5 * (a + b)
    t[f] = np.stack([a, m, c], axis=1)
    return np.vstack([t, np.stack([m, b, c], axis=1), np.stack([a, b, m], axis=1)])


def junctions(t: Soup, rng: Rng) -> Soup:
    t, f = t.copy(), _some(t, rng, 40)
    a, b, c = t[f, 0], t[f, 1], t[f, 2]
    m, n = a + 0.4 * (b - a), a + 0.7 * (b - a)
    t[f] = np.stack([a, m, c], axis=1)
    return np.vstack([t, np.stack([m, n, c], axis=1), np.stack([n, b, c], axis=1)])


def scraps(t: Soup, rng: Rng) -> Soup:
    return np.vstack([t, 1.02 * t[_some(t, rng, 5)] + [0.1, 0.0, 0.0]])


def flaps(t: Soup, rng: Rng) -> Soup:
    """Sheets of two layers that stand on an edge."""
    f = _some(t, rng, 5)
    sheet = np.stack([t[f, 0], t[f, 1], 1.05 * t[f, 0]], axis=1)
    return np.vstack([t, sheet, sheet[:, ::-1]])


def fins(t: Soup, rng: Rng) -> Soup:
    """Single faces that stand on an edge: three faces there."""
    f = _some(t, rng, 5)
    return np.vstack([t, np.stack([t[f, 0], t[f, 1], 1.02 * t[f, 0]], axis=1)])


EVERY: dict[str, Damage] = {
    one.__name__: one
    for one in (
        *(missing, patch_missing, not_welded, flipped, repeated, back_to_back),
        *(degenerate, flat, junctions, scraps, flaps, fins),
    )
}
