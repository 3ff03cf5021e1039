"""Why a hole cannot be somewhere, and the place that forbids it."""

from __future__ import annotations

from ventplanner.geometry.solid import FloatArray


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
