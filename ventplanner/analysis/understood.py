"""What is the same of a part in every pose: the health of its mesh, and how its skins are read."""

from __future__ import annotations

from dataclasses import dataclass

from ventplanner.analysis.health import HealthNote, examine
from ventplanner.analysis.limits import checked_part
from ventplanner.analysis.nesting import Reading, read_nesting
from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology
from ventplanner.options import Nested


@dataclass(frozen=True, eq=False)
class Understood:
    """part: without vertices that no face uses. health: of the mesh as it came. reading: of its skins."""

    part: Solid
    health: tuple[HealthNote, ...]
    reading: Reading

    @classmethod
    def of(cls, solid: Solid, nested: Nested) -> Understood:
        """Look at a mesh. Raises what `checked_part` and `read_nesting` raise."""
        part = checked_part(solid)
        first_look = topology(part)
        return cls(part, examine(part, first_look), read_nesting(part, first_look, nested))
