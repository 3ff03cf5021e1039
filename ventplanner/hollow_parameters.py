"""The numbers of hollowing, declared once, as those in `parameters`. Standard library only."""

from __future__ import annotations

from typing import Any, Literal

from ventplanner.parameters import Parameter

Fineness = Literal["coarse", "normal", "fine"]
OpenSide = Literal["none", "plate"]
Filling = Literal["none", "struts"]


def _mm(name: str, flag: str, label: str, default: float, span: tuple[float, float], text: str) -> Parameter[float]:
    return Parameter[float](name, flag, label, "mm", "float", default, text, lowest=span[0], highest=span[1])


# 2 to 4 mm are usual (common practice, no source).
WALL_MM = _mm(
    "wall_mm", "--wall", "wall", 2.5, (0.3, 50.0), "material that stays between the hollow and the skin, everywhere"
)
FINENESS = Parameter[Fineness](
    "fineness",
    "--fineness",
    "fineness of the grid",
    "",
    "choice",
    "normal",
    "grid on which the hollow is drawn: a fifth, a tenth or a twentieth of the wall; the wall is exact on each",
    choices=("coarse", "normal", "fine"),
)
GRID_MM = Parameter[float | None](
    "grid_mm",
    "--grid",
    "grid of the hollow",
    "mm",
    "float",
    None,
    "spacing of that grid, instead of one by fineness",
    lowest=0.02,
    highest=10.0,
    automatic="by fineness",
)
RADIUS_MM = _mm(
    "radius_mm",
    "--inside-radius",
    "least radius inside",
    1.0,
    (0.0, 50.0),
    "corners of the hollow are rounded so that a ball of this radius rolls along them; narrower places stay solid",
)
LEAST_MM3 = Parameter[float](
    "least_mm3",
    "--least-hollow",
    "least hollow",
    "mm3",
    "float",
    100.0,
    "hollows below this volume stay solid",
    lowest=0.0,
)
SOLID_BELOW_MM = _mm(
    "solid_below_mm",
    "--solid-below",
    "height that stays solid",
    0.0,
    (0.0, 5000.0),
    "height over the part's lowest point, in its pose, up to which it stays solid",
)
LIMB_MM = _mm(
    "limb_mm",
    "--solid-limbs",
    "width of limbs that stay solid",
    0.0,
    (0.0, 500.0),
    "where the hollow would be narrower than this, as in a limb, the part stays solid",
)
SOLID_DEPTH_MM = _mm(
    "solid_depth_mm",
    "--solid-depth",
    "depth under the surface to be kept solid",
    8.0,
    (0.1, 500.0),
    "how deep the part stays solid under what --keep-solid names",
)
OPEN_SIDE = Parameter[OpenSide](
    "open_side",
    "--open",
    "side that is left open",
    "",
    "choice",
    "none",
    "whether the hollow goes out through the face that lies flat on the plate",
    choices=("none", "plate"),
)
STEEPNESS_DEG = Parameter[float](
    "steepness_deg",
    "--ceiling",
    "least steepness of ceilings inside",
    "deg",
    "float",
    0.0,
    "ceilings inside rise at least this much from the layers, so that the inside carries itself; 0: only islands are"
    " carried",
    lowest=0.0,
    highest=80.0,
)
FILLING = Parameter[Filling](
    "filling",
    "--inside",
    "structure inside",
    "",
    "choice",
    "none",
    "an open lattice of slanted struts in the hollow",
    choices=("none", "struts"),
)
CELL_MM = _mm("cell_mm", "--cell", "cell of the lattice", 12.0, (1.0, 500.0), "edge of a cell of the lattice")
STRUT_MM = _mm("strut_mm", "--strut", "thickness of struts", 1.2, (0.2, 50.0), "diameter of the struts of the lattice")

HOLLOW_PARAMETERS: dict[str, Parameter[Any]] = {
    p.name: p
    for p in (
        *(WALL_MM, FINENESS, GRID_MM, RADIUS_MM, LEAST_MM3),
        *(SOLID_BELOW_MM, LIMB_MM, SOLID_DEPTH_MM, OPEN_SIDE, STEEPNESS_DEG),
        *(FILLING, CELL_MM, STRUT_MM),
    )
}
