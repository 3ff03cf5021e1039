"""Numbers and states in words, as the window writes them."""

from __future__ import annotations

from pathlib import Path

STATE_WORDS = {"sealed": "sealed", "late": "opens late", "breathing": "breathes"}


def mm(value: float) -> str:
    """A length with one decimal, and never "-0.0"."""
    return f"{round(value, 1) + 0.0:.1f} mm"


def exact_mm(value: float) -> str:
    """A length as it was typed: up to three decimals, one at least."""
    text = f"{value:.3f}".rstrip("0")
    return f"{text}0" if text.endswith(".") else text


def volume(mm3: float) -> str:
    """mm3 below 1000, else mL."""
    if mm3 >= 999.5:
        return f"{mm3 / 1000:.1f} mL"
    return f"{mm3:.0f} mm³" if mm3 >= 9.95 else f"{round(mm3, 1) + 0.0:.1f} mm³"


def area(mm2: float) -> str:
    """An area, mm2."""
    return f"{mm2:.0f} mm²"


def size(low: list[float], high: list[float]) -> str:
    """The extents of a box."""
    return " × ".join(f"{b - a:.1f}" for a, b in zip(low, high, strict=True)) + " mm"


def place(point: tuple[float, ...]) -> str:
    """A point in mm."""
    return ", ".join(f"{round(x, 1) + 0.0:.1f}" for x in point)


def direction(to_plate: tuple[float, float, float]) -> str:
    """A direction as an axis if it is one, else as three numbers."""
    for axis, value in zip("XYZ", to_plate, strict=True):
        if abs(value) > 1 - 1e-9:
            return f"{'+' if value > 0 else '−'}{axis}"
    return "(" + ", ".join(f"{x:.2f}" for x in to_plate) + ")"


def count(number: int, one: str, many: str = "") -> str:
    """ "1 cavity", "3 cavities"."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def file_name(path: str) -> str:
    """The last part of a path, on one line."""
    return " ".join(Path(path).name.split())


def title_of(path: str) -> str:
    """A file's name as a heading: no folder and no ending."""
    return " ".join(Path(path).stem.split()) or "Part"
