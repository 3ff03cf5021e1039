"""How the part hangs: the direction to the plate, and the build frame that follows from it.

Build axes: z grows from the plate towards later layers and is 0 at the part's lowest point; in the room z points down
while a hanging part prints (ISO 17295:2023 for part position and orientation: z positive from the build platform).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from ventplanner.errors import ParameterError
from ventplanner.geometry.solid import FloatArray, Solid

On = Literal["plate", "supports"]


@dataclass(frozen=True)
class Pose:
    """`to_plate`: unit vector in the file's axes that points at the plate. `on`: flat on the plate, or on supports."""

    to_plate: tuple[float, float, float] = (0.0, 0.0, -1.0)
    on: On = "supports"
    gap_mm: float = 5.0

    def __post_init__(self) -> None:
        direction = np.asarray(self.to_plate, dtype=np.float64)
        if direction.shape != (3,) or not np.isfinite(direction).all() or np.linalg.norm(direction) < 1e-9:
            raise ParameterError(
                f"The direction to the plate {tuple(self.to_plate)} is no direction.",
                "Give three numbers that are not all zero, such as 0,0,-1.",
            )
        if self.on not in ("plate", "supports"):
            raise ParameterError(f"'{self.on}' is no way to hold a part.", "Choose plate or supports.")
        if not np.isfinite(self.gap_mm) or self.gap_mm < 0:
            raise ParameterError(f"A gap of {self.gap_mm} mm is not possible.", "Give 0 or more.")
        norm = float(np.linalg.norm(direction))
        # A unit vector is kept to the last bit, so that saving and loading a pose changes nothing.
        unit = direction if abs(norm - 1.0) < 1e-12 else direction / norm
        object.__setattr__(self, "to_plate", tuple(float(x) + 0.0 for x in unit))

    @cached_property
    def rotation(self) -> FloatArray:
        """(3, 3) float64 proper rotation from the file's axes to the build axes; the third row is -to_plate."""
        up = -np.asarray(self.to_plate)
        # The file axis least along z becomes x, so the default pose is the identity and axis poses are exact.
        across = np.zeros(3)
        across[0 if abs(up[0]) <= max(abs(up[1]), abs(up[2])) else 1] = 1.0
        x = across - up * (across @ up)
        x /= np.linalg.norm(x)
        rotation = np.array([x, np.cross(up, x), up])
        rotation.flags.writeable = False
        return rotation


@dataclass(frozen=True, eq=False)
class BuildFrame:
    """The map between the file's axes and the build axes of one posed part.

    rotation: (3, 3) float64. lift: z of the part's lowest point after rotation, in mm.
    """

    rotation: FloatArray
    lift: float

    @classmethod
    def of(cls, solid: Solid, pose: Pose) -> BuildFrame:
        """The frame in which the lowest vertex that a face uses is at build height 0."""
        return cls(pose.rotation, float((solid.used_vertices @ pose.rotation[2]).min()))

    def to_build(self, points: FloatArray) -> FloatArray:
        """(…, 3) file points in mm to build points."""
        # The default pose is the identity: it must cost nothing, and change no bit of x and y. A matrix product would
        # wake threads of its own, which then stand in the way of the other work.
        out: FloatArray = points.copy() if self._is_identity else np.einsum("...j,kj->...k", points, self.rotation)
        out[..., 2] -= self.lift
        return out

    @cached_property
    def _is_identity(self) -> bool:
        return bool(np.array_equal(self.rotation, np.eye(3)))

    def to_file(self, points: FloatArray) -> FloatArray:
        """(…, 3) build points in mm to file points."""
        return np.asarray((np.asarray(points) + np.array([0.0, 0.0, self.lift])) @ self.rotation)

    def direction_to_build(self, vector: FloatArray) -> FloatArray:
        """(…, 3) file directions to build directions."""
        return np.asarray(np.asarray(vector) @ self.rotation.T)

    def direction_to_file(self, vector: FloatArray) -> FloatArray:
        """(…, 3) build directions to file directions."""
        return np.asarray(np.asarray(vector) @ self.rotation)
