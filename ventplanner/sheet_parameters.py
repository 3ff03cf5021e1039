"""The choices of the sheet for the bench, declared once, as those in `parameters`. Standard library only."""

from __future__ import annotations

from typing import Any, Final, Literal

from ventplanner.parameters import Parameter

Paper = Literal["a4", "letter"]

PAPER = Parameter[Paper](
    "paper",
    "--paper",
    "paper of the sheet",
    "",
    "choice",
    "a4",
    "paper of a sheet that is written as PDF",
    choices=("a4", "letter"),
)

Lengths = Literal["mm", "inch"]

LENGTHS = Parameter[Lengths](
    "lengths",
    "--lengths",
    "unit of lengths on the sheet",
    "",
    "choice",
    "mm",
    "whether a sheet tells lengths and areas in mm or inches; volumes stay in mL, the table of holes in mm",
    choices=("mm", "inch"),
)

SHEET_PARAMETERS: dict[str, Parameter[Any]] = {p.name: p for p in (PAPER, LENGTHS)}

SHEET_SUFFIXES: Final = (".pdf", ".html")
TABLE_SUFFIX: Final = ".csv"
