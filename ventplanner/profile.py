"""A profile: what the printer's light, the resin and the machine do. Frozen, complete and valid by construction."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

from ventplanner import profile_parameters as p
from ventplanner.errors import ParameterError
from ventplanner.physics.fluids import air_pressure, viscosity_at
from ventplanner.profile_parameters import PROFILE_PARAMETERS


@dataclass(frozen=True)
class Profile:
    """Light, base layers, resin, machine and limits; fields, units, ranges and sources as `profile_parameters` says.

    Raises ParameterError for a value that is not allowed, and for one layer that would not cure through.
    """

    name: str = "Ordinary resin"
    pixel_mm: float = p.PIXEL.default
    layer_height_mm: float = p.LAYER.default
    penetration_mm: float = p.PENETRATION.default
    exposure_ratio: float = p.RATIO.default
    blur_mm: float = p.BLUR.default
    base_layers: int = int(p.BASE_LAYERS.default)
    base_exposure: float = p.BASE_RATIO.default
    base_spread_mm: float = p.BASE_SPREAD.default
    viscosity_mpas: float = p.VISCOSITY.default
    viscosity_at_c: float = p.VISCOSITY_AT.default
    temperature_c: float = p.TEMPERATURE.default
    activation_kj_mol: float = p.ACTIVATION.default
    viscosity_band_percent: float = p.VISCOSITY_BAND.default
    density_kg_m3: float = p.DENSITY.default
    surface_tension_mn_m: float = p.TENSION.default
    green_modulus_mpa: float = p.MODULUS.default
    green_poisson: float = p.POISSON.default
    lift_speed_mm_min: float = p.LIFT_SPEED.default
    lower_speed_mm_min: float = p.LOWER_SPEED.default
    lift_height_mm: float = p.LIFT_HEIGHT.default
    vat_depth_mm: float = p.VAT_DEPTH.default
    altitude_m: float = p.ALTITUDE.default
    rim_gap_mm: float = p.RIM_GAP.default
    suction_limit_kpa: float = p.SUCTION_LIMIT.default
    peel_layers: int = int(p.PEEL_LAYERS.default)
    flex_share_percent: float = p.FLEX_SHARE.default

    def __post_init__(self) -> None:
        name = " ".join(self.name.split()) if isinstance(self.name, str) else ""
        if not 0 < len(name) <= LONGEST_NAME or not name.isprintable():
            raise ParameterError(
                f"A profile cannot be called '{self.name!s:.40}'.", f"Give 1 to {LONGEST_NAME} letters, digits, spaces."
            )
        object.__setattr__(self, "name", name)
        for f in fields(self):
            if f.name != "name":
                object.__setattr__(self, f.name, PROFILE_PARAMETERS[f.name].check(getattr(self, f.name)))

    @property
    def viscosity_pas(self) -> float:
        """Pa s at the temperature of the print."""
        energy = 1000.0 * self.activation_kj_mol
        return viscosity_at(self.temperature_c, 0.001 * self.viscosity_mpas, self.viscosity_at_c, energy)

    @property
    def viscosity_span_pas(self) -> tuple[float, float]:
        """Pa s, lowest and highest that it may be."""
        doubt = 0.01 * self.viscosity_band_percent
        return (1.0 - doubt) * self.viscosity_pas, (1.0 + doubt) * self.viscosity_pas

    @property
    def air_pressure_pa(self) -> float:
        """Pa: no suction can be larger."""
        return air_pressure(self.altitude_m)

    def exposure_of(self, layer: int) -> float:
        """E/Ec of a layer, counted from the plate from 0."""
        return self.exposure_ratio * (self.base_exposure if layer < self.base_layers else 1.0)

    def named(self, name: str) -> Profile:
        """The same profile under another name."""
        return replace(self, name=name)


LONGEST_NAME = 60

PRESETS: tuple[Profile, ...] = (
    Profile(),
    Profile("Thin resin", viscosity_mpas=150.0),
    Profile("Thick resin", viscosity_mpas=1000.0, lift_speed_mm_min=40.0, lower_speed_mm_min=100.0),
    Profile("Rubbery resin", viscosity_mpas=2000.0, green_modulus_mpa=5.0, green_poisson=0.48, lift_speed_mm_min=30.0),
    Profile("Fine layers", pixel_mm=0.035, layer_height_mm=0.03),
)
"""Where to begin, none of them any maker's: typical values from memory, to be replaced by measured ones."""
