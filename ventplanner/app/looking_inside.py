"""What a look inside found, in the words of the window: places to be shown, and what is worth a remark."""

from __future__ import annotations

from dataclasses import dataclass

from ventplanner.analysis.ceilings import Ceiling
from ventplanner.analysis.inside import Inside
from ventplanner.analysis.islands import Island
from ventplanner.analysis.thin import ThinPlace
from ventplanner.app.left import Left
from ventplanner.geometry.pose import BuildFrame
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.model import Point


@dataclass(frozen=True)
class Seen:
    """One place. kind: what it stands under. short: a line of a list; text: a sentence; what: the word at the place."""

    kind: str
    short: str
    text: str
    at_mm: Point
    what: str


def seen(inside: Inside, frame: BuildFrame) -> tuple[Seen, ...]:
    """All places, kind by kind, the largest first."""

    def at(point: FloatArray) -> Point:
        x, y, z = frame.to_file(point[None])[0].tolist()
        return (x, y, z)

    limits = inside.limits
    thin, ceilings = f"Walls under {limits.thin_mm:g} mm", f"Ceilings under {limits.overhang_deg:g}°"
    islands = sorted(inside.islands, key=lambda i: -i.volume)
    return (
        *(Seen("Starts in mid-air", *_island(i), at(i.start), "starts in mid-air") for i in islands),
        *(Seen(ceilings, *_ceiling(c), at(c.at), f"ceiling of {c.cavity}") for c in inside.ceilings),
        *(
            Seen("Specks of closed void", f"{s.volume:.2g} mm3", _SPECK.format(s.volume), at(s.at), "speck of void")
            for s in inside.specks
        ),
        *(Seen(thin, *_thin(t), at(t.at), f"{t.thickness:.2f} mm thin") for t in inside.thin),
    )


_SPECK = "A closed void of {:.2g} mm3, below the filter: no vent empties it."


def _island(island: Island) -> tuple[str, str]:
    start, where = f"{island.from_height:.1f} mm", f" in {island.cavity}" if island.cavity else ""
    size = f"{island.volume:.0f} mm3" if island.volume >= 9.95 else f"{island.volume:.1f} mm3"
    if island.held_height is None:
        return f"from {start}{where}, loose, {size}", f"It starts at {start}{where} and is held by nothing: {size}."
    held = f"{island.held_height:.1f} mm"
    return (
        f"{start} to {held}{where}, {size}",
        f"It starts at {start}{where} and is held from {held} on; by then it has {size}.",
    )


def _ceiling(ceiling: Ceiling) -> tuple[str, str]:
    heights = f"{ceiling.from_height:.1f} mm"
    if ceiling.to_height > ceiling.from_height + 0.05:
        heights += f" to {ceiling.to_height:.1f} mm"
    area = f"{ceiling.area:.0f} mm2"
    return (
        f"{ceiling.cavity}, {heights}, {area}",
        f"In {ceiling.cavity} at {heights}, {area} are printed over nothing, {ceiling.steepness_deg:.0f}° steep on"
        " average.",
    )


def _thin(place: ThinPlace) -> tuple[str, str]:
    sides = " and ".join(dict.fromkeys(side or "outside" for side in place.between))
    return (
        f"{place.thickness:.2f} mm, {sides}",
        f"The wall is {place.thickness:.2f} mm there ({sides}); {place.area:.1f} mm2 are under the limit.",
    )


def worth_a_look(inside: Inside) -> tuple[Left, ...]:
    """The remark about what no support from outside can help, and about thin walls; none about what is usual."""
    loose = sum(1 for i in inside.islands if i.held_height is None)
    within = sum(1 for i in inside.islands if i.held_height is not None and i.cavity)
    told = [
        *([f"{_count(loose, 'piece is', 'pieces are')} held by nothing"] if loose else []),
        *([f"{_count(within, 'island', 'islands')} in mid-air, out of reach of supports"] if within else []),
        *([f"{_count(len(inside.thin), 'wall', 'walls')} under {inside.limits.thin_mm:g} mm"] if inside.thin else []),
    ]
    return (Left(f"Look inside: {', '.join(told)}.", "part"),) if told else ()


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"
