"""The part of a fake session: a box with three invented cavities, and what is proposed for them."""

from __future__ import annotations

from dataclasses import dataclass
from types import SimpleNamespace as Stub

import numpy as np

from ventplanner.app.state import AppState
from ventplanner.geometry.solid import Solid, Source
from ventplanner.plan.model import Vent


@dataclass(frozen=True)
class Left:
    text: str
    target: str


@dataclass(frozen=True)
class Job:
    name: str
    share: float = -1.0
    cancellable: bool = False
    step: str = ""
    left_s: float | None = None


def box(path: str = "/parts/bell-buoy.stl") -> Solid:
    corners = np.array([[x, y, z] for x in (0.0, 40.0) for y in (0.0, 40.0) for z in (0.0, 80.0)])
    quads = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))
    faces = [t for a, b, c, d in quads for t in ((a, b, c), (a, c, d))]
    return Solid(corners, np.array(faces, dtype=np.int32), (), Source(path=path, format="STL"))


def vent(name: str, cavity: str, cup: str, height: float) -> Vent:
    entry, leave = (0.0, 20.0, height), (2.0, 20.0, height)
    why = "at the start of the pocket, straight through one wall"
    return Vent(name, cavity, cup, "vent", entry, leave, (1.0, 0.0, 0.0), 2.5, 2.0, 0.5, 0.5, why)


PROPOSALS = (
    vent("1", "A", "A1", 2.4),
    vent("2", "A", "A2", 19.5),
    vent("3", "B", "B1", 33.2),
    vent("4", "C", "C1", 61.0),
)


def _cup(name: str, number: int, low: float, volume: float) -> Stub:
    cup = Stub(
        start=np.array([20.0, 20.0, low]),
        from_height=low,
        joins_height=None,
        to_height=None,
        sealed_volume=volume,
        peak_area=0.05 * volume,
        peak_height=low + 5.0,
    )
    return Stub(id=name, number=number, cup=cup, state="sealed")


def findings_of(state: AppState) -> Stub:
    cups = {
        "A": (_cup("A1", 0, 2.0, 17100.0), _cup("A2", 1, 19.3, 626.0)),
        "B": (_cup("B1", 2, 33.0, 1400.0),),
        "C": (_cup("C1", 3, 60.8, 460.0),),
    }
    volumes = {"A": 17726.0, "B": 1400.0, "C": 460.0}
    cavities = tuple(
        Stub(id=k, kind="sealed", key=n, volume=v, state="sealed", openings=(), cups=cups[k])
        for n, (k, v) in enumerate(volumes.items())
    )
    return Stub(
        cavities=cavities,
        solid=state.solid,
        part=state.solid,
        pose=state.pose,
        options=state.options,
        volume=23400.0,
        health=(),
        notes=("Columns every 0.2 mm.",),
        scene=Stub(resolution=Stub(pitch_mm=0.2), height=80.0),
        cups=Stub(filtered_count=69, filtered_volume=1.1),
    )
