"""What a look inside found, in the words of the window: places to be shown, and what is worth a remark."""

from __future__ import annotations

from dataclasses import dataclass

from ventplanner.analysis.inside import Inside
from ventplanner.app.left import Left
from ventplanner.geometry.pose import BuildFrame
from ventplanner.geometry.solid import FloatArray
from ventplanner.plan.model import Point

MOST = 5
"""So many places of a kind are listed, the largest; how many more there are is said."""


@dataclass(frozen=True)
class Seen:
    """A sentence about one place. kind: the heading it stands under. what: the word at the place in the view."""

    kind: str
    text: str
    at_mm: Point | None = None
    what: str = ""


def seen(inside: Inside, frame: BuildFrame) -> tuple[Seen, ...]:
    """All that is listed, kind by kind."""

    def at(point: FloatArray) -> Point:
        x, y, z = frame.to_file(point[None])[0].tolist()
        return (x, y, z)

    limits = inside.limits
    islands, thin = "Starts in mid-air", f"Walls under {limits.thin_mm:g} mm"
    ceilings, specks = f"Ceilings under {limits.overhang_deg:g} degrees", "Specks of closed void"
    found: list[Seen] = []
    for island in sorted(inside.islands, key=lambda i: -i.volume)[:MOST]:
        held = "held by nothing" if island.held_height is None else f"held from {island.held_height:.1f} mm"
        where = f"In {island.cavity}, from" if island.cavity else "From"
        found.append(
            Seen(
                islands,
                f"{where} {island.from_height:.1f} mm, {held}: {island.volume:.1f} mm3.",
                at(island.start),
                islands,
            )
        )
    found += _more(islands, len(inside.islands))
    for ceiling in inside.ceilings[:MOST]:
        heights = f"{ceiling.from_height:.1f} mm"
        if ceiling.to_height > ceiling.from_height + 0.05:
            heights = f"{ceiling.from_height:.1f} mm to {ceiling.to_height:.1f} mm"
        text = f"In {ceiling.cavity}, at {heights}: {ceiling.area:.0f} mm2."
        found.append(Seen(ceilings, text, at(ceiling.at), f"ceiling of {ceiling.cavity}"))
    found += _more(ceilings, len(inside.ceilings))
    for speck in inside.specks[:MOST]:
        found.append(Seen(specks, f"{speck.volume:.2g} mm3 that no vent empties.", at(speck.at), "speck of void"))
    found += _more(specks, len(inside.specks))
    for place in inside.thin[:MOST]:
        sides = " and ".join(dict.fromkeys(side or "outside" for side in place.between))
        text = f"{place.thickness:.2f} mm, {sides}, over {place.area:.1f} mm2."
        found.append(Seen(thin, text, at(place.at), f"thin wall, {place.thickness:.2f} mm"))
    return (*found, *_more(thin, len(inside.thin)))


def _more(kind: str, count: int) -> list[Seen]:
    return [Seen(kind, f"And {count - MOST} more, smaller ones.")] if count > MOST else []


def worth_a_look(inside: Inside) -> tuple[Left, ...]:
    """The remark about what no support from outside can help, and about thin walls; none about what is usual."""
    loose = sum(1 for i in inside.islands if i.held_height is None)
    within = sum(1 for i in inside.islands if i.held_height is not None and i.cavity)
    told = [
        *([f"{_count(loose, 'piece is', 'pieces are')} held by nothing"] if loose else []),
        *([f"{_count(within, 'island', 'islands')} inside, out of reach of supports"] if within else []),
        *([f"{_count(len(inside.thin), 'wall', 'walls')} under {inside.limits.thin_mm:g} mm"] if inside.thin else []),
    ]
    return (Left(f"Look inside: {', '.join(told)}.", "part"),) if told else ()


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"
