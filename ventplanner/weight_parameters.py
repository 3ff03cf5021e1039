"""How much each thing counts that makes a place for a vent better or worse, declared once. Standard library only.

A weight says how many mm of wall are as bad as one unit of the thing. All are own judgement: they are a matter of
taste, which is why they can be set.
"""

from __future__ import annotations

from ventplanner.parameters import Parameter

HIGHEST = 1000.0


def _weight(name: str, label: str, unit: str, default: float, text: str) -> Parameter[float]:
    return Parameter(name, "--prefer", label, unit, "float", default, text, lowest=0.0, highest=HIGHEST)


LOST = _weight("lost", "height lost", "per mm", 4.0, "height above the start of the cup before the vent opens")
SEALED = _weight("sealed", "volume left sealed", "per mm3", 0.05, "sealed area x height that is left")
WALL = _weight("wall", "wall", "per mm", 1.0, "material along the axis; the others are told in mm of it")
SECOND = _weight("second", "height between openings", "per mm", 2.0, "height that a second opening lacks to the best")
SEEN = _weight("seen", "being seen", "in all views", 40.0, "share of the views in which the vent is seen")
BEND = _weight("bend", "bend of the skin", "per deg", 0.05, "angle by which the skin turns under the rim")
EDGE = _weight("edge", "nearness of an edge", "per mm", 1.5, "distance that an edge or crease is nearer than 2 mm")
GAP = _weight("gap", "nearness of a hole", "per mm", 0.3, "distance that another hole is nearer than 10 mm")
THIN = _weight("thin", "thin wall beside", "per mm", 4.0, "thickness that the wall beside the rim lacks to 1 mm")
SUPPORT = _weight("support", "nearness of a support", "per mm", 2.0, "distance that a support is nearer than 2 mm")
BASE = _weight("base", "base layers", "per mm", 3.0, "height of the entry that lies in base layers")
PLATE = _weight("plate", "nearness of the plate", "per mm", 1.0, "distance that the plate is nearer than 2 mm")
ACCESS = _weight("access", "no way in", "at none", 6.0, "share that the free way before the entry lacks to 60 mm")

WEIGHTS: dict[str, Parameter[float]] = {
    w.name: w for w in (LOST, SEALED, WALL, SECOND, SEEN, BEND, EDGE, GAP, THIN, SUPPORT, BASE, PLATE, ACCESS)
}
SLIDER_WEIGHS = ("lost", "sealed", "wall", "second", "seen")
"""The slider weighs the last of these against the others; all further weights always count in full."""
