"""What is said about draining: frozen values. Volumes in mm3, heights in mm along the direction that is up, axes of the
file unless a name says else."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ventplanner.draining.bath import Air, Bath, Rest
from ventplanner.draining.cells import Cells
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.model import Point

How = Literal["hanging", "taken off", "turn", "held"]
Why = Literal["sealed", "no air", "pool", "outer dip"]


@dataclass(frozen=True)
class Pool:
    """Liquid with one surface. cavity: its id, "" for a dip of the outer skin. level_mm: height of its surface above
    the origin, along up; depth_mm: of its deepest point below that; at_mm: that point. spill_mm: height at which it
    runs over, into another pool or out, None if it never does; room: mm3 that it takes more until then, None: no
    end."""

    cavity: str
    volume: float
    level_mm: float
    depth_mm: float
    at_mm: Point
    spill_mm: float | None = None
    room: float | None = None


@dataclass(frozen=True)
class Ran:
    """What ran out of a cavity in a step. through: id of the vent or passage, "" for an opening of the part; to: the
    cavity that it ran to, "" for the outside."""

    cavity: str
    through: str
    to: str
    volume: float


@dataclass(frozen=True, eq=False)
class Step:
    """One move and the wait after it. how: left hanging on the plate, taken off it, turned, or held so to begin with.
    gravity: unit vector. wait_s: to wait, at the nominal viscosity; wait_most_s: at the highest that it may be. left:
    mm3 in pools afterwards; out: mm3 that left. air: how it gets into each cavity that had liquid at a mouth. rest: the
    liquid itself, for the view (build axes)."""

    how: How
    gravity: Point
    wait_s: float
    wait_most_s: float
    left: float
    out: float
    ran: tuple[Ran, ...]
    pools: tuple[Pool, ...]
    air: tuple[tuple[str, Air], ...]
    rest: Rest

    @property
    def shake(self) -> bool:
        """Whether a cavity only empties if the part is shaken."""
        return any(how == "shake" for _, how in self.air)


@dataclass(frozen=True)
class Left:
    """What stays in a cavity ("": in dips of the outer skin) at the end, and why."""

    cavity: str
    volume: float
    why: Why
    at_mm: Point


@dataclass(frozen=True, eq=False)
class Drained:
    """A pour plan. full: mm3 that all hollows hold. steps: from hanging on the plate on. left_where: what stays in
    pools, most first. film: mm3 that clings to the walls at the end, besides. at_most: mm3 in pools if every mouth
    holds back as much as a drop can carry, and what must be shaken out stays; with the film. bath: the cells, for the
    view."""

    full: float
    steps: tuple[Step, ...]
    left_where: tuple[Left, ...]
    film: float
    at_most: float
    bath: Bath
    notes: tuple[str, ...] = ()

    @property
    def left(self) -> float:
        """mm3 in pools after the last step."""
        return self.steps[-1].left

    @property
    def cells(self) -> Cells:
        """The cells that `Step.rest` is said of."""
        return self.bath.cells

    def liquid(self, step: int) -> FloatArray:
        """(n,) mm3 in each cell after a step."""
        return self.steps[step].rest.liquid
