"""Texts that speak in millimetres told in inches: for the window and for the sheet, where a maker wants them so.

Figures keep as many decimals as they are worth: two more than in mm for a length, three digits for areas and volumes.
"""

from __future__ import annotations

import math
import re
from typing import Final

INCH: Final = 25.4
"""mm in an inch, exactly (international yard and pound agreement, 1959)."""

SHOWN_AS: Final = {"mm": "in", "mm²": "in²", "mm³": "in³"}
_OF_UNIT: Final = {"mm": INCH, "mm²": INCH**2, "mm³": INCH**3}

IN_TEXT: Final = re.compile(
    r"(?<![\w.])"
    # A range begins a sentence; in "vent 1 to 2.5 mm" the first figure is a name.
    r"(?:(?:^|(?<=Give )|(?<=\. ))(?P<low>[-−]?\d+(?:\.\d+)?) to )?"
    # Of a list of figures only the last one bears the unit.
    r"(?P<listed>(?:[-−]?\d+\.\d+(?:, | and |, and | × ))+)?"
    r"(?P<value>[-−]?\d+(?:\.\d+)?) (?P<unit>mm³|mm3|mm²|mm2|mm|mL)(?![\w/])"
)
_LISTED = re.compile(r"[-−]?\d+\.\d+")
_COORDINATE = r"[-−]?\d+(?:\.\d+)?(?:e[-+]?\d+)?"
_PLACE = re.compile(rf"\(({_COORDINATE}(?:, {_COORDINATE}){{2}})\) mm(?![\w/])")
"""The coordinates of a place."""


def proper(unit: str) -> str:
    """A unit of length, area or volume, "mm", "mm2", "mm3", or "kg/m3", with its raised figure; also within a text."""
    return unit.replace("mm3", "mm³").replace("mm2", "mm²").replace("/m3", "/m³")


def number(text: str) -> float:
    """A figure as it stands in a text, with either minus sign."""
    return float(text.replace("−", "-"))


def figure(mm: float) -> str:
    """A length without its unit: a tenth of a mm is told in thousandths of an inch; never "-0.0"."""
    return f"{round((round(mm, 1) + 0.0) / INCH, 3) + 0.0:.3f}"


def exact(value: float, unit: str = "mm") -> str:
    """A figure of mm, mm² or mm³ as it was typed, without its unit: up to 5 decimals, one at least."""
    text = f"{value / _OF_UNIT[unit]:.5f}".rstrip("0")
    text = f"{text}0" if text.endswith(".") else text
    return text[1:] if text.startswith("-") and not text.strip("-0.") else text


def three_digits(value: float) -> str:
    """Three digits that count, without a power of ten."""
    if value == 0 or not math.isfinite(value):
        return f"{value + 0.0:g}"
    decimals = max(0, 2 - math.floor(math.log10(abs(value))))
    return f"{value:.{decimals}f}"


def told(text: str, *, pour_by_ml: bool = False) -> str:
    """A text with all its lengths, areas, volumes and places in inches; speeds and all else stay as they are.
    pour_by_ml: volumes are told in mL, as resin is sold and poured."""

    def one(match: re.Match[str]) -> str:
        if pour_by_ml and match["unit"] in ("mL", "mm3", "mm³"):
            return match[0] if match["unit"] == "mL" else f"{three_digits(0.001 * number(match['value']))} mL"
        return in_inches(match)

    return IN_TEXT.sub(one, places(text))


def places(text: str) -> str:
    """A text with the coordinates of its places in inches."""
    return _PLACE.sub(lambda found: f"({', '.join(map(_of_place, found[1].split(', ')))}) in", text)


def in_inches(match: re.Match[str]) -> str:
    """What `IN_TEXT` found, in inches."""
    unit = match["unit"]
    factor = 1000.0 if unit == "mL" else 1.0
    kind = "mm³" if unit == "mL" else proper(unit)
    if match["low"]:  # limits are told exactly: they may be typed
        low, high = (exact(number(match[k]) * factor, kind) for k in ("low", "value"))
        return f"{low} to {high} {SHOWN_AS[kind]}"
    listed = _LISTED.sub(lambda one: _rounded(one[0], factor, kind), match["listed"] or "")
    return f"{listed}{_rounded(match['value'], factor, kind)} {SHOWN_AS[kind]}"


def _of_place(coordinate: str) -> str:
    return figure(number(coordinate))


def _rounded(text: str, factor: float, kind: str) -> str:
    """A figure of a text with as many decimals as it is worth: two more than in mm for a length."""
    value = number(text) * factor / _OF_UNIT[kind]
    if kind != "mm":
        return three_digits(value)
    given = len(text.partition(".")[2])
    figure_text = f"{round(value, 2 + given) + 0.0:.{2 + given}f}"
    # Of what was typed to the last decimal no noughts are left behind the third.
    spare = max(0, given - 1)
    kept, tail = figure_text[: len(figure_text) - spare], figure_text[len(figure_text) - spare :]
    return f"{kept}{tail.rstrip('0')}"
