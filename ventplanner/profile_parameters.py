"""The numbers of a profile, declared once: light, base layers, resin, machine, and the limits that the maker sets.

Each carries where its default comes from. Most are from memory or own judgement: they differ from printer to printer
and from resin to resin, so a maker replaces them with measured ones. Standard library only.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ventplanner.parameters import Parameter

Group = Literal["light", "base layers", "resin", "machine", "limits"]
GROUPS: tuple[Group, ...] = ("light", "base layers", "resin", "machine", "limits")

MEMORY = "from memory, no published value"
PRACTICE = "common practice, no source"
JUDGEMENT = "own judgement"


@dataclass(frozen=True)
class ProfileParameter(Parameter[float]):
    """A number of a profile: the group it stands in, and where its default comes from."""

    group: Group = "light"
    source: str = MEMORY


_FLAGS = {"viscosity_mpas": "--viscosity", "lift_speed_mm_min": "--lift-speed", "lower_speed_mm_min": "--lower-speed"}
"""Options of the command line; the other numbers are set in a profile's file."""


def _number(
    group: Group, name: str, label: str, unit: str, default: float, span: tuple[float, float], text: str, source: str
) -> ProfileParameter:
    kind: Literal["float", "int"] = "int" if isinstance(default, int) else "float"
    flag = _FLAGS.get(name, "--profile")
    return ProfileParameter(
        name, flag, label, unit, kind, default, text, lowest=span[0], highest=span[1], group=group, source=source
    )


PIXEL = _number("light", "pixel_mm", "pixel", "mm", 0.05, (0.005, 0.5), "side of one pixel of the light", PRACTICE)
LAYER = _number("light", "layer_height_mm", "layer height", "mm", 0.05, (0.005, 0.5), "height of one layer", PRACTICE)
PENETRATION = _number(
    "light", "penetration_mm", "penetration depth", "mm", 0.1, (0.02, 1.0),
    "depth in the resin over which the light falls to 37 %; 0.05 to 0.5 for usual resins", MEMORY,
)  # fmt: skip
RATIO = _number(
    "light", "exposure_ratio", "exposure ratio", "", 4.0, (1.1, 100.0),
    "dose at the film over the dose that just cures the resin", MEMORY,
)  # fmt: skip
BLUR = _number(
    "light", "blur_mm", "light spread", "mm", 0.05, (0.0, 0.5),
    "standard deviation of the light's spread in the plane; true spread has longer tails", MEMORY,
)  # fmt: skip
BASE_LAYERS = _number(
    "base layers", "base_layers", "base layers", "", 5, (0, 100), "number of over-exposed first layers", PRACTICE
)
BASE_RATIO = _number(
    "base layers", "base_exposure", "exposure of base layers", "", 10.0, (1.0, 100.0),
    "dose of a base layer over that of an ordinary one; 5 to 20 is usual", PRACTICE,
)  # fmt: skip
BASE_SPREAD = _number(
    "base layers", "base_spread_mm", "spread of base layers", "mm", 0.2, (0.0, 2.0),
    "how much further than other layers the base layers spread sideways, on each side", PRACTICE,
)  # fmt: skip
VISCOSITY = _number(
    "resin", "viscosity_mpas", "viscosity", "mPa·s", 300.0, (0.5, 100_000.0),
    "viscosity of the resin at the temperature below; 100 to 1500 for rigid resins", MEMORY,
)  # fmt: skip
VISCOSITY_AT = _number(
    "resin", "viscosity_at_c", "temperature of that viscosity", "°C", 25.0, (0.0, 100.0),
    "temperature at which the viscosity was measured", PRACTICE,
)  # fmt: skip
TEMPERATURE = _number(
    "resin", "temperature_c", "temperature of the resin", "°C", 25.0, (0.0, 100.0),
    "temperature of the resin in the vat while printing", PRACTICE,
)  # fmt: skip
ACTIVATION = _number(
    "resin", "activation_kj_mol", "flow activation energy", "kJ/mol", 45.0, (0.0, 120.0),
    "how strongly warmth thins the resin (Andrade's law); 30 to 60 is usual", MEMORY,
)  # fmt: skip
VISCOSITY_BAND = _number(
    "resin", "viscosity_band_percent", "doubt about the viscosity", "%", 30.0, (0.0, 90.0),
    "the true viscosity may be this much lower or higher", JUDGEMENT,
)  # fmt: skip
DENSITY = _number(
    "resin", "density_kg_m3", "density", "kg/m3", 1100.0, (600.0, 3000.0), "density of the liquid resin", MEMORY
)
TENSION = _number(
    "resin", "surface_tension_mn_m", "surface tension", "mN/m", 35.0, (10.0, 80.0),
    "surface tension of the resin; 28 to 40 is usual", MEMORY,
)  # fmt: skip
MODULUS = _number(
    "resin", "green_modulus_mpa", "stiffness as printed", "MPa", 500.0, (0.5, 5000.0),
    "Young's modulus before the last cure; 100 to 1600 for rigid resins, 1 to 10 for rubbery ones", MEMORY,
)  # fmt: skip
POISSON = _number(
    "resin", "green_poisson", "Poisson's ratio as printed", "", 0.4, (0.0, 0.49),
    "how much the printed resin narrows when stretched", MEMORY,
)  # fmt: skip
LIFT_SPEED = _number(
    "machine", "lift_speed_mm_min", "lift speed", "mm/min", 60.0, (0.1, 2000.0),
    "speed at which a layer is lifted off the film", PRACTICE,
)  # fmt: skip
LOWER_SPEED = _number(
    "machine", "lower_speed_mm_min", "lowering speed", "mm/min", 150.0, (0.1, 3000.0),
    "speed at which the part goes back down to the film", PRACTICE,
)  # fmt: skip
LIFT_HEIGHT = _number(
    "machine", "lift_height_mm", "lift height", "mm", 6.0, (0.5, 100.0), "how far a layer is lifted", PRACTICE
)
VAT_DEPTH = _number(
    "machine", "vat_depth_mm", "depth of the resin", "mm", 20.0, (1.0, 500.0),
    "depth of the resin in the vat, from its surface to the film", PRACTICE,
)  # fmt: skip
ALTITUDE = _number(
    "machine", "altitude_m", "altitude", "m", 0.0, (-500.0, 6000.0),
    "height of the workshop above the sea, for the pressure of the air", PRACTICE,
)  # fmt: skip
RIM_GAP = _number(
    "machine", "rim_gap_mm", "gap under the rim", "mm", 0.0, (0.0, 1.0),
    "gap between film and rim through which resin seeps into a cup at the lift; 0 counts on none", JUDGEMENT,
)  # fmt: skip
SUCTION_LIMIT = _number(
    "limits", "suction_limit_kpa", "largest suction", "kPa", 5.0, (0.01, 100.0),
    "suction or overpressure in a cup that is still accepted; an ordinary peel pulls some 1 to 100 kPa", JUDGEMENT,
)  # fmt: skip
PEEL_LAYERS = _number(
    "limits", "peel_layers", "layers of ordinary peel", "", 3, (0, 100),
    "a cup shallower than this many layers counts as ordinary peel", JUDGEMENT,
)  # fmt: skip
FLEX_SHARE = _number(
    "limits", "flex_share_percent", "largest bulge of a wall", "%", 10.0, (0.1, 100.0),
    "bulge of a wall under suction, as a share of its thickness, above which it is warned of", JUDGEMENT,
)  # fmt: skip

PROFILE_PARAMETERS: dict[str, ProfileParameter] = {
    p.name: p
    for p in (
        *(PIXEL, LAYER, PENETRATION, RATIO, BLUR),
        *(BASE_LAYERS, BASE_RATIO, BASE_SPREAD),
        *(VISCOSITY, VISCOSITY_AT, TEMPERATURE, ACTIVATION, VISCOSITY_BAND, DENSITY, TENSION, MODULUS, POISSON),
        *(LIFT_SPEED, LOWER_SPEED, LIFT_HEIGHT, VAT_DEPTH, ALTITUDE, RIM_GAP),
        *(SUCTION_LIMIT, PEEL_LAYERS, FLEX_SHARE),
    )
}
