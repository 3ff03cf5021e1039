"""A slow oracle for the as-printed engine: whole parts as dense cells, doses summed layer by layer, flood fill.

It shares no code with what it tests: masks come from filled voxels, the blur from scipy on a raster five times finer,
the doses from a plain double loop, and cups from labelling what is printed so far, height by height.
"""

from __future__ import annotations

import numpy as np
from scipy.ndimage import binary_dilation, gaussian_filter, label

from ventplanner.profile import Profile

FINER = 5


def blurred(mask: np.ndarray, profile: Profile) -> np.ndarray:
    """(nz, ny, nx) bool to the light in the middle of each pixel: square pixels under a Gaussian."""
    if profile.blur_mm == 0.0:
        return mask.astype(float)
    # scipy takes a Gaussian at points; each point stands for a square of variance 1/12.
    sigma = float(np.sqrt((FINER * profile.blur_mm / profile.pixel_mm) ** 2 + 1.0 / 12.0))
    fine = np.repeat(np.repeat(mask.astype(float), FINER, axis=1), FINER, axis=2)
    light = np.stack([gaussian_filter(layer, sigma, mode="constant", truncate=6.0) for layer in fine])
    return light[:, FINER // 2 :: FINER, FINER // 2 :: FINER]


def doses(mask: np.ndarray, profile: Profile, gap: float = 0.0) -> np.ndarray:
    """Dose in the middle of each cell over what just cures. gap: mm between plate and part."""
    layer = profile.layer_height_mm
    below = round(gap / layer)
    s = profile.base_spread_mm / profile.pixel_mm + 1e-9
    reach = np.arange(-int(s), int(s) + 1)
    disc = np.hypot(*np.meshgrid(reach, reach)) <= s
    lit = np.stack([binary_dilation(m, disc) if k + below < profile.base_layers else m for k, m in enumerate(mask)])
    light = blurred(lit, profile)
    out = np.zeros(mask.shape)
    for j in range(len(mask)):
        for k in range(j, len(mask)):
            depth = (k - j + 0.5) * layer
            out[j] += profile.exposure_of(k + below) * np.exp(-depth / profile.penetration_mm) * light[k]
    return out


def sealed_cells(void: np.ndarray, on_plate: bool) -> np.ndarray:
    """(nz,) cells of each layer that are sealed when the part is printed up to that layer; void: (nz, ny, nx) bool,
    its outermost rows and columns outside."""
    count = np.zeros(len(void), dtype=int)
    for k in range(len(void)):
        air = void[: k + 1]
        if not on_plate:
            air = np.concatenate((np.ones_like(air[:1]), air))
        names, _ = label(air)
        outside = names[:, 0, 0] if on_plate else names[0, 0, 0]
        count[k] = np.count_nonzero(air[-1] & ~np.isin(names[-1], np.unique(outside)))
    return count


def cells_of(runs: object, layers: int, layer: float) -> np.ndarray:
    """(nz, ny, nx) bool: void cells of some void runs."""
    grid = runs.grid  # type: ignore[attr-defined]
    out = np.zeros((layers, grid.ny * grid.nx), dtype=bool)
    middle = (np.arange(layers) + 0.5) * layer
    for z0, z1, column in zip(runs.z0, runs.z1, runs.column_of_run, strict=True):  # type: ignore[attr-defined]
        out[(middle >= z0) & (middle < z1), column] = True
    return out.reshape(layers, grid.ny, grid.nx)
