"""The printer and the resin on the bench: which profile is in use, and the quiet button that says so."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from ventplanner.profile import Profile
from ventplanner.profile_parameters import PROFILE_PARAMETERS
from ventplanner.ui.panels.fields import button
from ventplanner.ui.profiles import Profiles, key_of
from ventplanner.ui.units import sentence

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
        self._usual = Profile()
        self._shown: tuple[Profile, Profile] | None = None
        self._told: tuple[str, Profile] | None = None
        self.button = button("", show_form, "quiet")
        self._restore()

    @property
    def in_use(self) -> Profile:
        """The profile that everything is computed for: that of the plan at hand, or the usual one without a part."""
        return self._session.profile

    @property
    def is_of_the_plan(self) -> bool:
        """Whether the plan at hand has another profile than the next part would have."""
        return self.in_use != self._usual

    @property
    def saved_one(self) -> Profile | None:
        """The profile that can be chosen under the name of the one in use, but differs from it; else None."""
        saved = self.profiles.get(self.in_use.name)
        return None if saved is None or saved.named(self.in_use.name) == self.in_use else saved

    @property
    def can_be_chosen(self) -> bool:
        """Whether the profile in use is one of those there are; else the plan alone keeps it."""
        return self.profiles.get(self.in_use.name) == self.in_use

    def use(self, profile: Profile) -> None:
        """Compute for this printer and resin from now on, for other parts too and after the next start."""
        self._make_usual(profile)
        self._session.set_profile(profile)
        self._show()

    def replaced(self, before: Profile, after: Profile) -> None:
        """A profile that could be chosen is another one now: so it is wherever it was in use."""
        used = self.in_use == before
        if key_of(self._usual.name) == key_of(before.name):
            self._make_usual(after)
        if used:
            self._session.set_profile(after)
        self._show()

    def _make_usual(self, profile: Profile) -> None:
        self._usual = profile
        self._session.set_usual_profile(profile)
        self._settings.set(SETTING, profile.name)
        self._settings.save()

    def follow(self, notices: Notices) -> None:
        """The session has changed: say which profile is in use, and once of each plan that it is not the saved one."""
        if self._shown is not None and self._shown[0] is self.in_use and self._shown[1] is self._usual:
            return
        self._show()
        told, saved = (self._session.path, self.in_use), self.saved_one
        if self.is_of_the_plan and saved is not None and told != self._told:
            self._told = told
            use = partial(self._session.set_profile, saved)
            notices.say(differing(self.in_use, saved), ("Use the saved one", use), ("Keep the plan's", _nothing))

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
        self._usual = profile
        self._session.set_usual_profile(profile)
        self._show()

    def _show(self) -> None:
        """Name, viscosity and speed; and whether it is the plan's own."""
        profile = self.in_use
        self._shown = (profile, self._usual)
        figures = f"{1000.0 * profile.viscosity_pas:.0f} mPa·s, lift {profile.lift_speed_mm_min:g} mm/min"
        name = profile.name if len(profile.name) <= LONGEST_SHOWN else f"{profile.name[: LONGEST_SHOWN - 1]}…"
        whose = " (of the plan)" if self.is_of_the_plan else ""
        self.button.setText(f"{name}{whose}  ·  {figures}")
        self.button.setAccessibleName(f"Printer and resin: {profile.name}{whose}, {figures}")
        lines = [f"Printer and resin: {profile.name}{whose}", figures]
        if self.is_of_the_plan:
            saved = self.saved_one
            lines += [] if saved is None else [differing(profile, saved)]
            lines.append(f"Other parts: {self._usual.name}")
        self.button.setToolTip("\n".join(lines))


def differing(own: Profile, saved: Profile) -> str:
    """In what the profile of a plan differs from the one that can be chosen under its name."""
    found = [p for name, p in PROFILE_PARAMETERS.items() if getattr(own, name) != getattr(saved, name)]
    told = [
        " ".join(f"{p.label} {getattr(own, p.name):g} {p.unit} instead of {getattr(saved, p.name):g} {p.unit}".split())
        for p in found[:MOST_TOLD]
    ]
    more = f" and {len(found) - MOST_TOLD} more" if len(found) > MOST_TOLD else ""
    return sentence(
        f"The plan keeps its own profile '{own.name}', which is used; the saved profile of that name differs:"
        f" {', '.join(told)}{more}."
    )


LONGEST_SHOWN = 24

MOST_TOLD = 3
"""So many numbers are told that differ."""
