"""What one more drill does to a part with some holes: only the pieces of free space that it reaches are swept again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ventplanner.analysis.cups import Cups
from ventplanner.analysis.scene import Scene
from ventplanner.geometry.columns import Tool
from ventplanner.geometry.pieces import Region, Swept
from ventplanner.geometry.solid import FloatArray


@dataclass(frozen=True, eq=False)
class Change:
    """The cups without and with one more drill: of the whole part, or where `swept` is given of all that it changes
    alone."""

    before: Cups
    after: Cups
    swept: Swept | None = None

    def holds(self, points: FloatArray) -> NDArray[np.bool_]:
        """(k,) bool: of which build points (k, 3) `after` tells; all others are as they were."""
        return np.ones(len(points), dtype=np.bool_) if self.swept is None else self.swept.holds(points)


@dataclass(frozen=True, eq=False)
class Drilled:
    """A part with these drills."""

    scene: Scene
    tools: tuple[Tool, ...]
    _found: dict[tuple[frozenset[int], ...] | None, Cups] = field(default_factory=dict)

    @property
    def cups(self) -> Cups:
        """All cups."""
        if None not in self._found:
            self._found[None] = self.scene.cups(self.tools)
        return self._found[None]

    def about(self, points: FloatArray) -> Cups:
        """The cups at build points (k, 3), and maybe others."""
        region = self.scene.pieces.region(self.tools, (), self.scene.pieces.at(points))
        return self.cups if region is None else self._before(region)

    def one_more(self, tool: Tool, points: FloatArray) -> Change:
        """What a drill changes; the cups at build points (k, 3) are told in any case."""
        tools = (*self.tools, tool)
        region = self.scene.pieces.region(tools, (len(self.tools),), self.scene.pieces.at(points))
        if region is None:
            return Change(self.cups, self.scene.cups(tools))
        swept = self.scene.pieces.swept(region, _chosen(tools, region))
        return Change(self._before(region), self.scene.cups_of(swept.tree), swept)

    def _before(self, region: Region) -> Cups:
        drills = region.drills - {len(self.tools)}
        key = region.pieces, drills
        if key not in self._found:
            region = Region(region.pieces, drills, region.box)
            swept = self.scene.pieces.swept(region, _chosen(self.tools, region))
            self._found[key] = self.scene.cups_of(swept.tree)
        return self._found[key]


def _chosen(tools: Sequence[Tool], region: Region) -> list[Tool]:
    return [tools[k] for k in sorted(region.drills)]
