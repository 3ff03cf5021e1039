"""What a search for an orientation found, in words and figures: of its short list, of the present orientation, of any
direction of its map.

Texts speak in mm, as all below the window; what is coarse says "about".
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from typing import Literal

import numpy as np

from ventplanner.analysis.findings import Findings
from ventplanner.app.directions import SIDES, in_words
from ventplanner.app.state import AppState, fields_of, key_of, marks_key
from ventplanner.app.suction import kpa
from ventplanner.geometry.pose import Pose
from ventplanner.orienting.model import Candidate, Figures, Map, Search
from ventplanner.plan.model import Point
from ventplanner.profile import Profile
from ventplanner.progress import Progress, silent

Better = Literal["", "now", "here"]
Kind = Literal["count", "share", "pa", "mm", "mm2", "mm3"]

LEAST: dict[Kind, float] = {"count": 0.5, "share": 0.05, "pa": 100.0, "mm": 0.5, "mm2": 5.0, "mm3": 20.0}
"""A smaller difference makes no orientation the better one (own judgement)."""


@dataclass(frozen=True)
class Quantity:
    """One of the figures. name: its field of `Figures`. short: its label where there is little room. kind: how it is
    written. less, more: what follows a difference."""

    name: str
    label: str
    short: str
    kind: Kind
    tip: str
    less: str = "less"
    more: str = "more"

    def told(self, value: float) -> str:
        """A value with its unit."""
        if self.kind == "pa":
            return kpa(value)
        if self.kind == "mm3" and 0.5 <= value < LEAST["mm3"]:
            return f"< {LEAST['mm3']:.0f} mm3"
        if self.kind == "mm3":
            return f"{value / 1000.0:.1f} mL" if value >= 999.5 else f"{value + 0.0:.0f} mm3"
        if self.kind == "share":
            return f"{100.0 * value + 0.0:.0f} %"
        if self.kind == "mm":
            return f"{value:.1f} mm"
        return f"{value:.0f}" if self.kind == "count" else f"{value:.0f} mm2"

    def is_any(self, value: float | None) -> bool:
        """Whether a value is more than next to nothing."""
        return value is not None and value >= LEAST[self.kind]

    def differs(self, here: float, now: float) -> str:
        """By how much `here` is less or more than `now`, in words; "" where that is not worth telling."""
        if self.told(here) == self.told(now) or abs(here - now) < LEAST[self.kind]:
            return ""
        return f"{self.told(abs(here - now))} {self.less if here < now else self.more}"


QUANTITIES = (
    Quantity("vents", "Vents", "Vents", "count", "Holes that it needs", "fewer"),
    Quantity("unserved", "Cups without a place", "No place", "count", "Cups without a place for a vent", "fewer"),
    Quantity("peak_suction_pa", "Suction", "Suction", "pa", "Of the worst layer, with those vents"),
    Quantity("peak_overpressure_pa", "Overpressure", "Overpressure", "pa", "Of the worst layer, with those vents"),
    Quantity("sealed_mm3", "Printed sealed", "Sealed", "mm3", "Void printed while sealed off, as the part came"),
    Quantity("sealed_area_mm2", "Largest sealed area", "Sealed area", "mm2", "Of one layer, as the part came"),
    Quantity("left_mm3", "Resin left", "Resin left", "mm3", "With those vents, hanging or plate side down"),
    Quantity("seen", "Seen in views", "Seen", "share", "Share of the views from around in which a vent is seen"),
    Quantity("islands", "Starts in mid-air", "Mid-air", "count", "Pieces that begin in free space inside", "fewer"),
    Quantity("overhang_mm2", "Flat ceilings inside", "Ceilings", "mm2", "Too flat to hold themselves"),
    Quantity("height_mm", "Height", "Height", "mm", "Of the print, with its supports", "lower", "higher"),
    Quantity("largest_section_mm2", "Largest section", "Section", "mm2", "Material in one layer: what has to peel off"),
)
"""All figures of `Figures`, in the order in which they are told."""

_IN_ROW = ("vents", "unserved", "peak_suction_pa", "sealed_mm3", "left_mm3", "height_mm")
"""Those that a line of the short list tells."""

_ALWAYS = ("vents", "height_mm")

_WORDS = {
    "vents": ("{} vent", "{} vents"),
    "unserved": ("{} cup without a place", "{} cups without a place"),
    "peak_suction_pa": ("suction {}", "suction {}"),
    "sealed_mm3": ("{} sealed", "{} sealed"),
    "left_mm3": ("{} resin left", "{} resin left"),
    "height_mm": ("{} high", "{} high"),
}


@dataclass(frozen=True)
class Place:
    """An orientation that is looked at. values: the figures that are known, by name. coarse: they are those of the map.
    number: in the short list, from 1; 0 if it is not of it. face_mm2: area of the flat place that it rests on."""

    pose: Pose
    values: Mapping[str, float]
    coarse: bool = False
    number: int = 0
    face_mm2: float = 0.0


@dataclass(frozen=True)
class Row:
    """A figure of two orientations, and which is better. tip: what it means, with its whole name."""

    name: str
    short: str
    tip: str
    here: str
    now: str
    better: Better


def orient_key(state: AppState, profile: Profile) -> str:
    """Key of a search: all that it rests on. How the part hangs is not in it, but for the gap: turned, it is the same,
    and a search covers plate and supports."""
    about = (*(fields_of(each) for each in (state.options, state.rules, state.limits, profile)), marks_key(state))
    supports = state.supports.digest if state.supports is not None else ""
    return key_of("orient", state.solid.digest, state.pose.gap_mm, supports, *about)


def look_for(findings: Findings, state: AppState, profile: Profile, progress: Progress = silent) -> Search:
    """Search for orientations of a part that hangs as in the findings. Raises Cancelled."""
    from ventplanner.orienting.search import search  # compiles inner loops that nothing else in the window needs

    marked = findings.keeping_clear(state.keep_clear)
    return search(marked, state.rules, profile, state.limits, progress=progress)


def present_key(state: AppState, profile: Profile) -> str:
    """Key of the present orientation worked out in full: all that a search rests on, and the pose."""
    return key_of("present orientation", orient_key(state, profile), fields_of(state.pose))


def work_out(findings: Findings, state: AppState, profile: Profile) -> Candidate:
    """The orientation that the part has in the findings, in full, with the supports of a second file if they have
    some."""
    from ventplanner.orienting.full import Judge  # as above

    return Judge(state.rules, profile, state.limits).of(findings.keeping_clear(state.keep_clear))


def known_of(search: Search, state: AppState) -> Candidate | None:
    """The present orientation of a state as a search has it in full; None if it has not. What is listed has no
    supports: where a second file of them counts, that is another thing."""
    listed = () if _are_supports_there(state) else search.candidates
    return next((c for c in (search.present, *listed) if is_same(c.pose, state.pose)), None)


def now_in(search: Search, state: AppState, present: Candidate | None) -> Place:
    """The present orientation: in full if that is known (`present`), else as the map has it."""
    if present is None:
        return _coarse(search, state.pose)
    number = next((n for n, c in enumerate(search.candidates, 1) if c is present), 0)
    return _exact(present, number)


def about_supports(search: Search, state: AppState) -> str:
    """A sentence on supports, in the part's own file or a second one; "" without any."""
    second = state.supports.name if state.supports is not None and _are_supports_there(state) else ""
    if not second and not search.is_bare:
        return ""
    which = " and ".join(name for name in ("its own file" if search.is_bare else "", second) if name)
    return (
        f"The supports in {which} are made for one orientation: they count for how it hangs now, and for nothing else"
        " on the map and in the list."
    )


def _are_supports_there(state: AppState) -> bool:
    return state.supports is not None and state.supports.solid is not None


def short_list(search: Search) -> tuple[Place, ...]:
    """The short list, numbered, best first."""
    return tuple(_exact(candidate, number) for number, candidate in enumerate(search.candidates, 1))


def found_for(search: Search, pose: Pose) -> Place:
    """What is known of a pose: in full if it was worked out, else as the map has it near its direction."""
    known = (*short_list(search), _exact(search.present, 0))
    full = next((place for place in known if is_same(place.pose, pose)), None)
    return full or _coarse(search, pose)


def there(search: Search, direction: Point, present: Pose) -> Place:
    """What the map has nearest to a direction, held as the part is held now; in full where that was worked out."""
    x, y, z = (float(v) for v in search.map.to_plate[nearest(search.map, direction)])
    on_supports = Pose((x, y, z), "supports", present.gap_mm)
    return found_for(search, on_supports)


def is_same(one: Pose, other: Pose) -> bool:
    """Whether a part hangs the same in both; on the plate a gap has no meaning."""
    near = math.dist(one.to_plate, other.to_plate) < 1e-6
    return near and one.on == other.on and (one.on == "plate" or abs(one.gap_mm - other.gap_mm) < 1e-9)


def nearest(found: Map, direction: Point) -> int:
    """Number of the direction of a map that is nearest to a direction."""
    return int(np.argmax(found.to_plate @ np.asarray(direction, dtype=np.float64)))


def values_at(found: Map, at: int) -> dict[str, float]:
    """The figures of one direction of a map that are known."""
    values = {name: float(column[at]) for name, column in found.figures.items()}
    return {name: value for name, value in values.items() if math.isfinite(value)}


def mapped(found: Map) -> tuple[Quantity, ...]:
    """The figures that a map has, apart from those that are unknown everywhere."""
    return tuple(q for q in QUANTITIES if q.name in found.figures and np.isfinite(found.figures[q.name]).any())


def varies(found: Map, quantity: Quantity) -> bool:
    """Whether a figure reads otherwise in some directions of a map than in others."""
    column = found.figures[quantity.name]
    return quantity.told(float(np.nanmin(column))) != quantity.told(float(np.nanmax(column)))


def title(pose: Pose) -> str:
    """An orientation in a few words: "Bottom, 37° towards right", "Top, on the plate"."""
    words = in_words(pose.to_plate).replace("tilted ", "")
    for axis, word in SIDES.items():
        words = words.replace(axis, word)
    return words[:1].upper() + words[1:] + (", on the plate" if pose.on == "plate" else "")


def held(place: Place) -> str:
    """What holds it, in a sentence."""
    if place.pose.on == "supports":
        return f"On supports, {place.pose.gap_mm:g} mm."
    return f"It stands on {place.face_mm2:.0f} mm2." if place.face_mm2 else ""


def told(place: Place, now: Place | None = None) -> str:
    """What an orientation costs, in one sentence. now: the one that the part has, with which it is compared."""
    parts = []
    for quantity in (q for q in QUANTITIES if q.name in _IN_ROW):
        value, before = place.values.get(quantity.name), None if now is None else now.values.get(quantity.name)
        if value is None or (quantity.name not in _ALWAYS and not (quantity.is_any(value) or quantity.is_any(before))):
            continue
        one, many = _WORDS[quantity.name]
        words = (one if quantity.told(value) == "1" else many).format(_about(quantity, value, place.coarse))
        by = "" if before is None else quantity.differs(value, before)
        parts.append(f"{words} ({by})" if by else words)
    line = ", ".join(parts)
    return f"{line[:1].upper()}{line[1:]}." if line else ""


def rows(place: Place, now: Place) -> Iterator[Row]:
    """The figures that are known of an orientation, beside those of the present one."""
    for quantity in QUANTITIES:
        here, there_ = place.values.get(quantity.name), now.values.get(quantity.name)
        if here is None:
            continue
        texts = [quantity.told(here), "" if there_ is None else quantity.told(there_)]
        better: Better = ""
        if there_ is not None and quantity.differs(here, there_):
            better = "here" if here < there_ else "now"
        yield Row(quantity.label, quantity.short, f"{quantity.label}. {quantity.tip}", texts[0], texts[1], better)


def _about(quantity: Quantity, value: float, coarse: bool) -> str:
    return f"about {quantity.told(value)}" if coarse else quantity.told(value)


def _coarse(search: Search, pose: Pose) -> Place:
    return Place(pose, values_at(search.map, nearest(search.map, pose.to_plate)), coarse=True)


def _exact(candidate: Candidate, number: int) -> Place:
    known = ((f.name, getattr(candidate.figures, f.name)) for f in fields(Figures))
    values = {name: float(value) for name, value in known if value is not None}
    return Place(candidate.pose, values, number=number, face_mm2=candidate.face_mm2)
