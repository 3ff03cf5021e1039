"""Every parameter of the program, declared once: name, option, unit, kind, default, range and text.

The command line, the documentation, the fields of the options and later the forms of the window are all derived from
these declarations. Standard library only, so that `--help` stays fast.
"""

from __future__ import annotations

import math
import numbers
from dataclasses import dataclass
from typing import Generic, Literal, TypeVar

from ventplanner.errors import ParameterError

T = TypeVar("T")
Kind = Literal["float", "int", "choice", "direction"]
Direction = tuple[float, float, float]


@dataclass(frozen=True)
class Parameter(Generic[T]):
    """One value that a user can set.

    `name` is the field or argument in Python, `flag` the option on the command line, `label` the words used in
    messages and forms. `default` None leaves the choice to the program, and then None is allowed as a value; and
    `automatic` says in words what that means. `lowest` and `highest` are included in the range; None is no limit.
    `usual` are values worth offering in a form.
    """

    name: str
    flag: str
    label: str
    unit: str
    kind: Kind
    default: T
    text: str
    lowest: float | None = None
    highest: float | None = None
    choices: tuple[str, ...] = ()
    usual: tuple[float, ...] = ()
    automatic: str = "automatic"

    @property
    def range_text(self) -> str:
        """The allowed values in words, such as "0.3 to 20 mm" or "plate or supports"."""
        if self.kind == "direction":
            return "three numbers X,Y,Z that are not all zero"
        if self.kind == "choice":
            return " or ".join((", ".join(self.choices[:-1]), self.choices[-1]))
        if self.lowest is None or self.highest is None:
            low, high = self.lowest, self.highest
            unit = f" {self.unit}" if self.unit else ""
            if low is not None:
                return f"{low:g}{unit} or more"
            return f"at most {high:g}{unit}" if high is not None else "any number"
        return f"{self.lowest:g} to {self.highest:g} {self.unit}".rstrip()

    @property
    def default_text(self) -> str:
        """The default in words."""
        if self.default is None:
            return self.automatic
        if isinstance(self.default, tuple):
            return ",".join(f"{x:g}" for x in self.default)
        return f"{self.default:g} {self.unit}".rstrip() if isinstance(self.default, float | int) else str(self.default)

    @property
    def help(self) -> str:
        """One line for the command line and the documentation: text, range and default."""
        return f"{self.text} ({self.range_text}; default: {self.default_text})"

    def check(self, value: object) -> T:
        """The value in its own type, if it is allowed; else ParameterError with the cause and the way out."""
        checked: object
        if value is None and self.default is None:
            checked = None
        elif self.kind == "choice":
            checked = self._choice(value)
        elif self.kind == "direction":
            checked = self._direction(value)
        else:
            checked = self._number(value)
        return checked  # type: ignore[return-value]  # T follows from `kind`, which the declarations below pair

    def parse(self, text: str) -> T:
        """The value written as `text` (decimal point; a direction as X,Y,Z); ParameterError if it is not allowed."""
        if self.default is None and text in ("automatic", "auto"):
            return self.check(None)
        try:
            if self.kind == "float":
                return self.check(float(text))
            if self.kind == "int":
                return self.check(int(text))
            if self.kind == "direction":
                return self.check(tuple(float(x) for x in text.split(",")))
        except ValueError:
            raise self._refused(text) from None
        return self.check(text)

    def _refused(self, value: object) -> ParameterError:
        is_number = isinstance(value, numbers.Real) and not isinstance(value, bool)
        shown = f"{value:g} {self.unit}".rstrip() if is_number else f"'{value!s:.40}'"
        return ParameterError(f"The {self.label} cannot be {shown}.", f"Give {self.range_text} ({self.flag}).")

    def _number(self, value: object) -> float | int:
        if isinstance(value, bool) or not isinstance(value, numbers.Real):
            raise self._refused(value)
        try:
            number = float(value)
        except OverflowError:
            raise self._refused(str(value)) from None
        if not math.isfinite(number):
            raise self._refused(value)
        if self.kind == "int" and not number.is_integer():
            raise self._refused(value)
        if (self.lowest is not None and number < self.lowest) or (self.highest is not None and number > self.highest):
            raise self._refused(value)
        return int(number) if self.kind == "int" else number

    def _choice(self, value: object) -> str:
        if isinstance(value, str) and value in self.choices:
            return value
        raise self._refused(value)

    def _direction(self, value: object) -> Direction:
        try:
            x, y, z = (float(v) for v in value)  # type: ignore[attr-defined]  # what cannot be iterated is refused
        except (TypeError, ValueError, OverflowError):
            raise self._refused(value) from None
        if not math.isfinite(math.hypot(x, y, z)) or math.hypot(x, y, z) < 1e-9:
            raise self._refused(",".join(f"{v:g}" for v in (x, y, z)))
        return (x, y, z)


UNIT = Parameter[str | None](
    "unit",
    "--unit",
    "unit of the file",
    "",
    "choice",
    None,
    "unit of the file's numbers, where the file does not say it",
    choices=("mm", "cm", "inch", "m"),
    automatic="as the file says, else mm",
)
TO_PLATE = Parameter[Direction](
    "to_plate",
    "--to-plate",
    "direction to the plate",
    "",
    "direction",
    (0.0, 0.0, -1.0),
    "direction in the file's axes that points at the build plate",
)
ON = Parameter[Literal["plate", "supports"]](
    "on",
    "--on",
    "way to hold the part",
    "",
    "choice",
    "supports",
    "whether the part lies flat on the plate or is raised on supports",
    choices=("plate", "supports"),
)
GAP_MM = Parameter[float](
    "gap_mm",
    "--gap",
    "gap between plate and part",
    "mm",
    "float",
    5.0,
    "distance between the plate and the part's lowest point, when it is on supports",
    lowest=0.0,
)
PITCH_MM = Parameter[float | None](
    "pitch_mm",
    "--pitch",
    "pitch",
    "mm",
    "float",
    None,
    "distance between the columns that measure the part; finer sees thinner walls and takes longer",
    lowest=0.02,
    highest=5.0,
)
LAYER_MM = Parameter[float](
    "layer_mm",
    "--layer",
    "lowest gap at the plate",
    "mm",
    "float",
    0.1,
    "flat on the plate, a void lower than this counts as closed; the printer's layer height is in the profile",
    lowest=0.01,
    highest=1.0,
)
IGNORE_BELOW_MM3 = Parameter[float](
    "ignore_below_mm3",
    "--ignore-below",
    "smallest sealed volume",
    "mm3",
    "float",
    5.0,
    "cups that seal less than this volume are only counted",
    lowest=0.0,
)
IGNORE_UNDER_MM = Parameter[float](
    "ignore_under_mm",
    "--ignore-under",
    "smallest sealed height",
    "mm",
    "float",
    0.5,
    "cups that stay sealed over less than this height are only counted",
    lowest=0.0,
)
LATE_MM = Parameter[float](
    "late_mm",
    "--late-mm",
    "height of a late cup",
    "mm",
    "float",
    0.5,
    "a cup is late if it stays sealed over more than this height and more than --late-mm3",
    lowest=0.0,
)
LATE_MM3 = Parameter[float](
    "late_mm3",
    "--late-mm3",
    "volume of a late cup",
    "mm3",
    "float",
    20.0,
    "a cup is late if it seals more than this volume over more than --late-mm",
    lowest=0.0,
)
NESTED = Parameter[Literal["auto", "solid", "cavity", "as-is"]](
    "nested",
    "--nested",
    "reading of nested skins",
    "",
    "choice",
    "auto",
    "how to read skins inside others: the likelier of both, all solid, all cavities, or as they are turned",
    choices=("auto", "solid", "cavity", "as-is"),
)
THIN_MM = Parameter[float](
    "thin_mm",
    "--thin-below",
    "thickness of a thin wall",
    "mm",
    "float",
    0.6,
    "walls under this thickness are named",
    lowest=0.0,
    highest=20.0,
)
OVERHANG_DEG = Parameter[float](
    "overhang_deg",
    "--overhang",
    "steepness of a ceiling",
    "deg",
    "float",
    30.0,
    "surfaces over a hollow that rise less than this from the layers are named",
    lowest=0.0,
    highest=90.0,
)
DIAMETER_MM = Parameter[float](
    "diameter_mm",
    "--diameter",
    "diameter of proposed vents",
    "mm",
    "float",
    2.5,
    "diameter of the proposed vents; smaller where the place demands it",
    lowest=0.3,
    highest=20.0,
    usual=(1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0),
)
VENTS_PER_CAVITY = Parameter[int](
    "vents_per_cavity",
    "--vents-per-cavity",
    "number of openings per cavity",
    "",
    "int",
    2,
    "openings that each cavity shall have at least, usable existing ones counted",
    lowest=1,
    highest=8,
)
LONGEST_WALL_MM = Parameter[float](
    "longest_wall_mm",
    "--longest-wall",
    "longest wall of proposed vents",
    "mm",
    "float",
    15.0,
    "longest way that a proposed vent may go through material",
    lowest=0.1,
    highest=500.0,
)
SIZE = Parameter[Literal["fixed", "need"]](
    "size",
    "--size",
    "choice of diameters",
    "",
    "choice",
    "fixed",
    "whether proposed vents have the diameter given, or each the smallest that keeps the limits of printer and resin",
    choices=("fixed", "need"),
)
# 2 to 2.5 mm is usual (common practice, no source): narrower ones hold resin back, and are hard to rinse through.
LEAST_MM = Parameter[float](
    "least_mm",
    "--least-diameter",
    "least diameter",
    "mm",
    "float",
    2.0,
    "proposed vents that are sized by need are at least so wide",
    lowest=0.3,
    highest=20.0,
)
PASSAGES = Parameter[Literal["off", "auto"]](
    "passages",
    "--passages",
    "passages inside",
    "",
    "choice",
    "off",
    "whether cups inside a cavity, and cups without a place on the skin, are joined to other hollows inside the part",
    choices=("off", "auto"),
)
PASSAGE_WALL_MM = Parameter[float](
    "passage_wall_mm",
    "--passage-wall",
    "least wall round passages",
    "mm",
    "float",
    0.8,
    "material that stays between a passage and the skin or another hollow at least",
    lowest=0.1,
    highest=100.0,
)

PREFER = Parameter[float](
    "prefer",
    "--prefer",
    "preference",
    "",
    "float",
    0.0,
    "where proposed vents go: 0 where the part breathes best, 1 where they are hidden best",
    lowest=0.0,
    highest=1.0,
    usual=(0.0, 0.25, 0.5, 0.75, 1.0),
)
SEEN_FROM = Parameter[Direction | None](
    "seen_from",
    "--seen-from",
    "direction that the part is looked at from",
    "",
    "direction",
    None,
    "direction in the file's axes, from the part to whoever looks at it where it is displayed",
    automatic="all around at eye level, the file's z upright",
)

HOLD = Parameter[Direction](
    "hold",
    "--hold",
    "direction that points down",
    "",
    "direction",
    (0.0, 0.0, -1.0),
    "direction in the file's axes that points down while the part drains; repeatable, in the order of turning",
)
"""Of the job `drain` alone, so it is in no list: without it the poses are looked for."""

PARAMETERS: dict[str, Parameter[object]] = {
    p.name: p  # type: ignore[misc]  # the table forgets the types of the values
    for p in (
        *(UNIT, TO_PLATE, ON, GAP_MM),
        *(PITCH_MM, LAYER_MM, IGNORE_BELOW_MM3, IGNORE_UNDER_MM, LATE_MM, LATE_MM3, NESTED),
        *(THIN_MM, OVERHANG_DEG),
        *(DIAMETER_MM, SIZE, LEAST_MM, VENTS_PER_CAVITY, LONGEST_WALL_MM),
        *(PREFER, SEEN_FROM),
        *(PASSAGES, PASSAGE_WALL_MM),
    )
}


def check(name: str, value: object) -> object:
    """The value of the parameter of this name, if it is allowed; else ParameterError. KeyError: no such parameter."""
    return PARAMETERS[name].check(value)
