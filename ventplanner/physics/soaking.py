"""How slowly a blind pocket is washed: by diffusion alone, and by filling it again and again. SI units."""

from __future__ import annotations

import math

DIFFUSIVITY = 5e-10
"""m2/s of resin in alcohol: 2e-10 to 1e-9 (Stokes and Einstein, molecules 0.25 to 1 nm across; from memory)."""


def remaining(depth: float, time: float, diffusivity: float = DIFFUSIVITY) -> float:
    """Share of what was in a pocket, `depth` m deep and open at one end, that is still in it after `time` s.

    J. Crank, The Mathematics of Diffusion, 2nd ed. 1975: the sum of 8 / ((2n+1)^2 pi^2) exp(-(2n+1)^2 pi^2 D t / 4
    l^2).
    """
    scaled = diffusivity * time / depth**2
    if scaled <= 0.0:
        return 1.0
    terms = max(4, int(1.5 / math.sqrt(scaled)) + 4)
    odd = (2.0 * n + 1.0 for n in range(min(terms, 100_000)))
    total = sum(8.0 / (k * math.pi) ** 2 * math.exp(-((k * math.pi) ** 2) * scaled / 4.0) for k in odd)
    return min(total, 1.0)


def soaking_time(depth: float, share: float, diffusivity: float = DIFFUSIVITY) -> float:
    """s until only `share` (0..0.5) is left in a pocket: from the slowest term, which by then is all that counts."""
    return 4.0 * depth**2 / (math.pi**2 * diffusivity) * math.log(8.0 / (math.pi**2 * share))


def rinses(kept: float, share: float) -> int:
    """How many fillings until `share` of the resin is left, if after each a share `kept` of the volume stays (0..1)."""
    if kept <= 0.0 or share >= kept:
        return 1
    return math.ceil(math.log(share) / math.log(kept) - 1e-9) if kept < 1.0 else 1_000_000
