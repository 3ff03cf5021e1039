"""Figures in words, as all plain reports give them."""

from __future__ import annotations

from collections.abc import Sequence


def mm(value: float) -> str:
    """One decimal, and never "-0.0"."""
    return f"{round(value, 1) + 0.0:.1f}"


def volume(mm3: float) -> str:
    """mm3 or mL."""
    if mm3 >= 1000:
        return f"{mm3 / 1000:.1f} mL"
    return f"{mm3:.0f} mm3" if mm3 >= 9.95 else f"{mm(mm3)} mm3"


def place(point: Sequence[float]) -> str:
    """Coordinates in mm."""
    return "(" + ", ".join(mm(x) for x in point) + ")"


def kpa(pascal: float) -> str:
    """Two digits, whole ones from 10 kPa on."""
    return f"{pascal / 1000:.2g} kPa" if pascal < 9950 else f"{pascal / 1000:.0f} kPa"


def pressure(pascal: float, air: float) -> str:
    """kPa, or that all the air presses. air: Pa."""
    return "closed" if pascal >= air * (1.0 - 1e-9) else kpa(pascal)
