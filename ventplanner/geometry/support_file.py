"""Supports of a file of their own: a value of the work, light enough for the start of the window."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import PurePath

import numpy as np

from ventplanner.errors import MeshError
from ventplanner.geometry.solid import Solid

FAR_MM = 5.0
"""Supports of which nothing comes so near to the part's box are those of another part, or in another unit (own
judgement)."""

SIZE_RATIO = 20.0
"""Nor are supports of the part so many times larger or smaller than it (own judgement)."""


@dataclass(frozen=True)
class Supports:
    """Support bodies of their own file, in the same unit and axes as the part. Only looked at, never exported.

    The same are those of one path and digest. path: of their file. solid: None when it is missing or is another one
    than before; `problem` says so then. digest: of the solid as it was chosen.
    """

    path: str
    digest: str
    solid: Solid | None = field(default=None, compare=False)
    problem: str = field(default="", compare=False)

    @property
    def name(self) -> str:
        """The last part of the path, of any system."""
        return PurePath(self.path.replace("\\", "/")).name

    def check_for(self, part: Solid) -> None:
        """Raise MeshError, with cause and way out, if these cannot be supports of this part."""
        if self.solid is None:
            return
        if self.solid.digest == part.digest:
            raise MeshError(
                f"{self.name} is the part itself, not its supports.",
                "Give the file that holds only the supports (--supports).",
            )
        own, theirs = part.bounds, self.solid.bounds
        ratio = float(np.ptp(theirs, axis=0).max() / np.ptp(own, axis=0).max())
        if not 1.0 / SIZE_RATIO <= ratio <= SIZE_RATIO:
            raise MeshError(
                f"{self.name} is {np.ptp(theirs, axis=0).max():.3g} mm across, the part"
                f" {np.ptp(own, axis=0).max():.3g} mm: these are not supports of this part.",
                "Write the supports in the unit of the part (--unit is for both), or give another file.",
            )
        apart = float(np.maximum(np.maximum(theirs[0] - own[1], own[0] - theirs[1]), 0.0).max())
        if apart > FAR_MM:
            raise MeshError(
                f"{self.name} lies {apart:.0f} mm away from the part: its supports touch it.",
                "Write supports and part in the same axes, with the same origin.",
            )
