"""Why a hole cannot be somewhere, and the place that forbids it."""

from __future__ import annotations

from ventplanner.geometry.pose import BuildFrame
from ventplanner.geometry.solid import FloatArray

TOO_LATE = "the cup would still open too late"
OPENS_ANOTHER = "it would open another hollow that is sealed"
A_CUP_ITSELF = "it would be a cup itself"


class Refusal(str):
    """Why a hole does not fit, in a few words, as any other text; at: the (3,) build point of the part that is in the
    way, None where there is none that could be pointed at. Two with the same words are equal."""

    at: FloatArray | None

    def __new__(cls, why: str, at: FloatArray | None = None) -> Refusal:
        """The words with their place."""
        made = super().__new__(cls, why)
        made.at = at
        return made


def place_of_refusal(why: object) -> FloatArray | None:
    """(3,) build point that a refusal points at; None of one without a place, and of anything else."""
    return why.at if isinstance(why, Refusal) else None


def with_place(frame: BuildFrame, why: str) -> str:
    """A refusal whose words tell where along the file's axes it is, if it has a place."""
    at = place_of_refusal(why)
    if at is None:
        return why
    place = ", ".join(f"{x:.1f}" for x in frame.to_file(at))
    return Refusal(f"{why}, at ({place}) mm", at)
