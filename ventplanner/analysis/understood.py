"""What is the same of a part in every pose: the health of its mesh, how its skins are read, its thinnest wall."""

from __future__ import annotations

from dataclasses import dataclass

from ventplanner.analysis.health import HealthNote, examine
from ventplanner.analysis.limits import checked_part
from ventplanner.analysis.nesting import Reading, read_nesting
from ventplanner.analysis.resolution import NOT_MEASURED
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology
from ventplanner.options import Nested


@dataclass(frozen=True, eq=False)
class Understood:
    """part: without vertices that no face uses. health: of the mesh as it came. reading: of its skins. wall: mm, its
    thinnest wall as columns met it in some pose, None without any; NOT_MEASURED before that."""

    part: Solid
    health: tuple[HealthNote, ...]
    reading: Reading
    wall: float | None = NOT_MEASURED

    @classmethod
    def of(cls, solid: Solid, nested: Nested) -> Understood:
        """Look at a mesh. Raises what `checked_part` and `read_nesting` raise."""
        part = checked_part(solid)
        first_look = topology(part)
        return cls(part, examine(part, first_look), read_nesting(part, first_look, nested))
