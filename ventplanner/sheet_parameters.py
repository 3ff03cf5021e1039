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

SHEET_PARAMETERS: dict[str, Parameter[Any]] = {PAPER.name: PAPER}

SHEET_SUFFIXES: Final = (".pdf", ".html")
TABLE_SUFFIX: Final = ".csv"
