"""The light of a profile on one part: doses by layer, the blur on the pixels, and the reach of both."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.ndimage import correlate1d
from scipy.special import erf

from ventplanner.geometry.pose import Pose
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.profile import Profile

REACH = 4.0
"""The blur is cut off at this many standard deviations: what lies beyond is less than 0.0001 of the light."""

SETTLED = 1e-6
"""A dose has settled when what is still to come is less than this share of it."""


@dataclass(frozen=True)
class Light:
    """A profile's light on a part of `layers` layers that begins `gap_mm` above the plate."""

    profile: Profile
    layers: int
    gap_mm: float

    @classmethod
    def on(cls, profile: Profile, pose: Pose, height: float) -> Light:
        """The light on a part of this height in mm, held as the pose says."""
        layers = max(1, math.ceil(height / profile.layer_height_mm - 1e-6))
        return cls(profile, layers, pose.gap_mm if pose.on == "supports" else 0.0)

    @property
    def pixel(self) -> float:
        """mm."""
        return self.profile.pixel_mm

    @property
    def layer(self) -> float:
        """mm."""
        return self.profile.layer_height_mm

    @cached_property
    def weights(self) -> FloatArray:
        """(2 r + 1,) share of its light that each pixel gives to the middle of the middle one, along an axis."""
        sigma = self.profile.blur_mm / self.pixel
        radius = math.ceil(REACH * sigma - 0.5) if sigma > 0.02 else 0
        if radius <= 0:
            return np.ones(1)
        edges = (np.arange(2 * radius + 2) - radius - 0.5) / (sigma * math.sqrt(2.0))
        share = np.diff(erf(edges))
        return np.asarray(share / share.sum())

    @property
    def radius(self) -> int:
        """Pixels that the blur reaches."""
        return len(self.weights) // 2

    @property
    def through(self) -> float:
        """Share of the light that one layer lets through."""
        return math.exp(-self.layer / self.profile.penetration_mm)

    @cached_property
    def own(self) -> FloatArray:
        """(layers,) dose that each layer, lit all over, gives the middle of its own cells: R_k exp(-h/2Dp)."""
        ratio = np.array([self.profile.exposure_of(k) for k in self._from_plate])
        return np.asarray(ratio * math.sqrt(self.through))

    @cached_property
    def ordinary(self) -> FloatArray:
        """(layers,) the same if there were no base layers."""
        return np.full(self.layers, self.profile.exposure_ratio * math.sqrt(self.through))

    @cached_property
    def _from_plate(self) -> list[int]:
        middle = (np.arange(self.layers) + 0.5) * self.layer + self.gap_mm
        return [int(k) for k in np.floor(middle / self.layer + 1e-6)]

    @cached_property
    def base(self) -> int:
        """How many of the part's layers are base layers."""
        return sum(k < self.profile.base_layers for k in self._from_plate)

    @cached_property
    def span(self) -> IntArray:
        """(2 s + 1,) pixels by which a base layer's mask grows along x, for dy = -s..s: a disc of the base spread."""
        reach = self.profile.base_spread_mm / self.pixel + 1e-9
        s = int(reach)
        return np.array([int(math.sqrt(reach**2 - dy * dy)) for dy in range(-s, s + 1)], dtype=np.int32)

    @property
    def margin(self) -> int:
        """Pixels beside the material that may be lit."""
        return self.radius + (len(self.span) // 2 if self.base else 0)

    @property
    def settle(self) -> int:
        """Layers after which the dose under an unchanging mask no longer changes."""
        return max(1, math.ceil(-math.log(SETTLED) * self.profile.penetration_mm / self.layer))


def blur(light: Light, plane: FloatArray) -> FloatArray:
    """The blur of planes (…, ny, nx); outside there is no light."""
    out = correlate1d(plane, light.weights, axis=-1, mode="constant")
    return np.asarray(correlate1d(out, light.weights, axis=-2, mode="constant"))
