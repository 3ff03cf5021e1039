"""The one place where lengths, areas and volumes are written for the user, and read as people type them.

Everywhere else they are mm, mm2 and mm3: in the files, the plans, the JSON and in the program. Here they become
millimetres or inches, whichever the user chose; typed with a unit, a figure is taken in that unit whatever is shown.
"""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Literal

from ventplanner.io import inches
from ventplanner.io.inches import IN_TEXT, INCH, SHOWN_AS, places, proper, three_digits, told
from ventplanner.io.inches import number as number_of

if TYPE_CHECKING:
    from ventplanner.geometry.outline import Outline

System = Literal["mm", "inch"]
SYSTEMS: tuple[System, ...] = ("mm", "inch")
NEAR_MM = 0.5e-5 * INCH * (1 + 1e-9)
"""Half a unit in the last decimal of an inch that is written, in mm."""

_IN_UNIT: dict[str, dict[str, float]] = {
    "mm": {
        "mm": 1.0, "cm": 10.0, "m": 1000.0, "µm": 1e-3, "um": 1e-3,
        "in": INCH, "inch": INCH, "inches": INCH, '"': INCH, "″": INCH, "''": INCH,
    },
    "mm²": {"mm²": 1.0, "mm2": 1.0, "mm^2": 1.0, "cm²": 100.0, "cm2": 100.0, "in²": INCH**2, "in2": INCH**2},
    "mm³": {
        "mm³": 1.0, "mm3": 1.0, "mm^3": 1.0, "cm³": 1e3, "cm3": 1e3, "ml": 1e3, "l": 1e6,
        "in³": INCH**3, "in3": INCH**3,
    },
}  # fmt: skip
_FIGURE = re.compile(
    r"([-+−]?)\s*(?:([0-9]+)\s+)?(?:([0-9]+)\s*/\s*([0-9]+)|([0-9]+[.,](?![0-9])|[0-9]*[.,]?[0-9]+))\s*(.*)"
)

_system: list[System] = ["mm"]


def use(system: System) -> None:
    """Show and read lengths in millimetres or in inches from now on."""
    _system[0] = system


def system() -> System:
    """What is shown now."""
    return _system[0]


def in_inches() -> bool:
    """Whether inches are shown."""
    return _system[0] == "inch"


def shown_unit(unit: str) -> str:
    """The unit that is written for one of mm, mm2, mm3; any other as it is."""
    unit = proper(unit)
    return SHOWN_AS.get(unit, unit) if in_inches() else unit


def per_shown(unit: str) -> float:
    """How many mm, mm2 or mm3 one shown unit has."""
    unit = proper(unit)
    return _IN_UNIT[unit][SHOWN_AS[unit]] if in_inches() and unit in SHOWN_AS else 1.0


def length(mm: float) -> str:
    """A length with its unit, as exactly as it is worth reading: a tenth of a mm, which is told in thousandths of an
    inch, so that figures and sentences from below, which speak in tenths of a mm, say the same."""
    return f"{figure(mm)} {shown_unit('mm')}"


def figure(mm: float) -> str:
    """The same without its unit; never "-0.0"."""
    return inches.figure(mm) if in_inches() else f"{round(mm, 1) + 0.0:.1f}"


def exact(value: float, unit: str = "mm") -> str:
    """A figure as it was typed, without its unit: up to 3 decimals of a mm, 5 of an inch; one at least."""
    text = f"{value / per_shown(unit):.{5 if in_inches() and proper(unit) in SHOWN_AS else 3}f}".rstrip("0")
    text = f"{text}0" if text.endswith(".") else text
    return text[1:] if text.startswith("-") and not text.strip("-0.") else text


def typed(value: float, unit: str) -> str:
    """A figure in a field, without its unit: lengths to two decimals of a mm at most, angles to one decimal; in inches
    as exactly as it was typed. The field keeps more than it shows."""
    if unit == "°":
        return f"{round(value, 1) + 0.0:g}"
    return exact(value, unit) if in_inches() or proper(unit) != "mm" else exact(_rounded_half_up(value, 2), unit)


def diameter(mm: float) -> str:
    """The diameter of a hole: one decimal of a mm, a second one if it has it; to a thousandth of an inch, which no
    drill knows better."""
    if in_inches():
        return f"{_rounded_half_up(mm / INCH, 3):.3f} {shown_unit('mm')}"
    return f"{typed(mm, 'mm')} {shown_unit('mm')}"


def section(width_mm: float, outline: Outline) -> str:
    """What a hole looks like along its axis: "2.0 mm", "slot 2.0 × 6.0 mm", "square 2.0 mm"."""
    if outline.shape == "slot":
        return f"slot {diameter(width_mm).rpartition(' ')[0]} × {diameter(outline.length_mm)}"
    return f"square {diameter(width_mm)}" if outline.shape == "square" else diameter(width_mm)


def as_typed(value: float, unit: str) -> str:
    """A figure for a field of a form, in the shown unit and without it: "5", "0.03937"."""
    if not (in_inches() and proper(unit) in SHOWN_AS):
        return f"{value:g}"
    return exact(value) if proper(unit) == "mm" else three_digits(value / per_shown(unit))


def exact_length(mm: float) -> str:
    """A length as it was typed, with its unit."""
    return f"{exact(mm)} {shown_unit('mm')}"


def area(mm2: float) -> str:
    """An area with its unit."""
    return f"{three_digits(mm2 / INCH**2)} in²" if in_inches() else f"{mm2:.0f} mm²"


def volume(mm3: float) -> str:
    """A volume with its unit: mm3 below 1000, else mL; or cubic inches."""
    if in_inches():
        return f"{three_digits(mm3 / INCH**3)} in³"
    if mm3 >= 999.5:
        return f"{mm3 / 1000:.1f} mL"
    return f"{mm3:.0f} mm³" if mm3 >= 9.95 else f"{round(mm3, 1) + 0.0:.1f} mm³"


def _rounded_half_up(value: float, decimals: int) -> float:
    """2.125 becomes 2.13, as everybody expects, though no binary figure is exactly 2.125; never -0."""
    if not math.isfinite(value):
        return value
    scale = 10.0**decimals
    return math.copysign(math.floor(abs(value) * scale + 0.5 + 1e-9), value) / scale + 0.0


def resin(mm3: float) -> str:
    """An amount of resin: it is sold and poured by the millilitre, in inches, too."""
    return f"{mm3 / 1000:.1f} mL" if mm3 >= 99.5 else f"{mm3 / 1000:.3f} mL"


def number(text: str, unit: str) -> float | None:
    """The figure in `text` in `unit` (mm, mm2, mm3, ° or none); None if there is none.

    A decimal comma, a fraction (`1/8`, `1 1/2`) and any unit of the same kind may be typed. A bare figure is taken in
    the unit that is shown.
    """
    match = _FIGURE.fullmatch(text.strip())
    if match is None:
        return None
    sign, whole, above, below, plain, typed = match.groups()
    if above is not None:
        if int(below) == 0:
            return None
        value = int(whole or 0) + int(above) / int(below)
    elif whole is not None:
        return None
    else:
        value = float(plain.replace(",", "."))
    value = -value if sign in ("-", "−") else value
    unit, typed = proper(unit), typed.strip().lower()
    if not typed:
        factor = per_shown(unit)
    elif unit in _IN_UNIT:
        factor = _IN_UNIT[unit].get(typed, math.nan)
    else:
        factor = 1.0 if proper(typed) == unit.lower() else math.nan
    if math.isnan(factor):
        return None
    return _meant(value * factor) if unit == "mm" and factor == INCH else value * factor


def _meant(mm: float) -> float:
    """A length given in inches; where only the fifth decimal of the inch keeps it from a hundredth of a mm, that."""
    near = round(mm, 2)
    return near if abs(mm - near) <= NEAR_MM else mm


def sentence(text: str) -> str:
    """A text from below the window, which speaks in mm, in the unit that is shown."""
    return told(text) if in_inches() else proper(text)


def edit_name(text: str) -> str:
    """The name of an edit in the unit that is shown: in inches lengths to a thousandth, as the cards tell them."""
    return IN_TEXT.sub(_in_thousandths, places(text)) if in_inches() else proper(text)


def _in_thousandths(match: re.Match[str]) -> str:
    value = number_of(match["value"]) / INCH
    if match["unit"] != "mm" or abs(value) < 0.01:
        return told(match[0])
    return f"{_rounded_half_up(value, 3):.3f} {SHOWN_AS['mm']}"
