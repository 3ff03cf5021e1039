"""The limits of the look inside, in a plan file."""

from __future__ import annotations

from msgspec import Struct


class LimitsJson(Struct, frozen=True, kw_only=True):
    """From where on a wall or a ceiling is named."""

    thin_mm: float
    overhang_deg: float
