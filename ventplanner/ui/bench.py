"""The printer and the resin on the bench: which profile is in use, and the quiet button that says so."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from ventplanner.profile import Profile
from ventplanner.ui.panels.fields import button
from ventplanner.ui.profiles import Profiles

if TYPE_CHECKING:
    from ventplanner.ui.panels.notices import Notices
    from ventplanner.ui.session import Session
    from ventplanner.ui.settings import Settings

SETTING = "profile"


def _nothing() -> None: ...


class Bench(QObject):
    """`profiles` are those there are; `button` belongs into the status bar and opens the form."""

    def __init__(self, session: Session, settings: Settings, show_form: Callable[[], object]) -> None:
        super().__init__()
        self._session = session
        self._settings = settings
        self.profiles = Profiles(settings.path.parent / "profiles")
        self._gone = ""
        self.button = button("", show_form, "quiet")
        self._restore()

    @property
    def in_use(self) -> Profile:
        """The profile that everything is computed for."""
        return self._session.profile

    def use(self, profile: Profile) -> None:
        """Compute for this printer and resin from now on, and after the next start."""
        self._session.set_profile(profile)
        self._settings.set(SETTING, profile.name)
        self._settings.save()
        self._show()

    def tell_problems(self, notices: Notices) -> None:
        """Say once what was wrong with the saved profiles."""
        for text in (self.profiles.problem, self._gone):
            if text:
                notices.say(text, ("Understood", _nothing))
        self.profiles.problem = self._gone = ""

    def _restore(self) -> None:
        name = self._settings.get(SETTING, Profile().name)
        profile = self.profiles.get(name)
        if profile is None:
            profile = Profile()
            self._gone = f"The profile '{name:.60}' is not there any more: '{profile.name}' is used."
        self._session.set_profile(profile)
        self._show()

    def _show(self) -> None:
        """Name, viscosity and speed."""
        profile = self.in_use
        figures = f"{1000.0 * profile.viscosity_pas:.0f} mPa·s, lift {profile.lift_speed_mm_min:g} mm/min"
        name = profile.name if len(profile.name) <= LONGEST_SHOWN else f"{profile.name[: LONGEST_SHOWN - 1]}…"
        self.button.setText(f"{name}  ·  {figures}")
        self.button.setAccessibleName(f"Printer and resin: {profile.name}, {figures}")
        self.button.setToolTip(f"Printer and resin: {profile.name}\n{figures}")


LONGEST_SHOWN = 24
