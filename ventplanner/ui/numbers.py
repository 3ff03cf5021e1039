"""The parameters of the command line as they are typed and told in the window."""

from __future__ import annotations

from ventplanner.errors import ParameterError
from ventplanner.parameters import Parameter
from ventplanner.ui.units import number, sentence


def parse(parameter: Parameter[object], text: str) -> object:
    """The value of a parameter typed as `text`; ParameterError in the parameter's own words if it is not allowed."""
    if parameter.default is None and text.strip() in ("", parameter.automatic):
        return parameter.check(None)
    value = number(text, parameter.unit)
    return parameter.parse(text.strip()) if value is None else parameter.check(value)


def complaint(parameter: Parameter[object], error: ParameterError) -> str:
    """What is wrong with a value, and what may be given: without the option of the command line."""
    return sentence(f"{error.cause} Give {parameter.range_text}.")
