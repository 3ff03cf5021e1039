"""The weights of a plan file: what counts how much where places for vents are compared."""

from __future__ import annotations

from msgspec import Struct

from ventplanner import weight_parameters as w


class WeightsJson(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Those that differ from the usual ones."""

    lost: float = w.LOST.default
    sealed: float = w.SEALED.default
    wall: float = w.WALL.default
    second: float = w.SECOND.default
    seen: float = w.SEEN.default
    bend: float = w.BEND.default
    edge: float = w.EDGE.default
    gap: float = w.GAP.default
    thin: float = w.THIN.default
    support: float = w.SUPPORT.default
    base: float = w.BASE.default
    plate: float = w.PLATE.default
    access: float = w.ACCESS.default
