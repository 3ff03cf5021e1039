"""Reading numbers as people type them: with a decimal comma, with a unit, with spaces around."""

from __future__ import annotations

import re

from ventplanner.errors import ParameterError
from ventplanner.parameters import Parameter

_MM_PER = {"mm": 1.0, "cm": 10.0, "in": 25.4, "inch": 25.4, '"': 25.4}
_TEXT = re.compile(r"\s*([-+−]?\s*[0-9]*[.,]?[0-9]*)\s*([^0-9\s]*)\s*")


def number(text: str, unit: str) -> float | None:
    """The number in `text`, in `unit`; None if there is none. Lengths may be typed in mm, cm or inches."""
    match = _TEXT.fullmatch(text)
    if match is None or not re.search("[0-9]", match[1]):
        return None
    value = float(match[1].replace(",", ".").replace("−", "-").replace(" ", ""))
    typed = match[2].lower()
    if not typed or typed == unit.lower() or (unit, typed) == ("mm³", "mm3"):
        return value
    if unit == "mm" and typed in _MM_PER:
        return value * _MM_PER[typed]
    return None


def parse(parameter: Parameter[object], text: str) -> object:
    """The value of a parameter typed as `text`; ParameterError in the parameter's own words if it is not allowed."""
    if parameter.default is None and text.strip() in ("", parameter.automatic):
        return parameter.check(None)
    value = number(text, shown_unit(parameter.unit))
    return parameter.parse(text.strip()) if value is None else parameter.check(value)


def complaint(parameter: Parameter[object], error: ParameterError) -> str:
    """What is wrong with a value, and what may be given: without the option of the command line."""
    return f"{error.cause} Give {parameter.range_text.replace('mm3', 'mm³')}."


def shown_unit(unit: str) -> str:
    """The unit as it is written in the window."""
    return unit.replace("mm3", "mm³").replace("mm2", "mm²")
