"""What the user prefers in the window whatever the part: the unit that is shown, and what the mouse does."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from ventplanner.ui import units

if TYPE_CHECKING:
    from ventplanner.ui.settings import Settings

Button = Literal["left", "middle", "right"]
BUTTONS: tuple[Button, ...] = ("left", "middle", "right")
_UNIT, _TURN, _WHEEL = "unit", "turning button", "wheel away makes smaller"


@dataclass(frozen=True)
class Preferences:
    """turn: the button that turns the part, the others move it. away_is_larger: what the wheel does, turned away."""

    unit: units.System = "mm"
    turn: Button = "left"
    away_is_larger: bool = True

    @classmethod
    def of(cls, settings: Settings) -> Preferences:
        """As they were kept; whatever is no such choice is as usual."""
        usual = cls()
        unit, turn = settings.get(_UNIT, usual.unit), settings.get(_TURN, usual.turn)
        return replace(
            usual,
            unit=next((u for u in units.SYSTEMS if u == unit), usual.unit),
            turn=next((b for b in BUTTONS if b == turn), usual.turn),
            away_is_larger=not settings.get(_WHEEL, False),
        )

    def keep(self, settings: Settings) -> None:
        """For the next start."""
        settings.set(_UNIT, self.unit)
        settings.set(_TURN, self.turn)
        settings.set(_WHEEL, not self.away_is_larger)
        settings.save()
