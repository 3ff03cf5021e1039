"""The profiles of printer and resin that there are: the ready-made ones, and the user's own, each in a file of its own.

The files lie in `profiles/` beside the settings, as `ventplanner.io.profile_json` writes them; what a person puts there
is read, too. Several windows may be open at once: the folder is looked at anew before anything is done to it.
"""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

from ventplanner.errors import FileReadError, FileWriteError, ParameterError
from ventplanner.io.atomic import write_error
from ventplanner.io.profile_json import read_profile, write_profile
from ventplanner.profile import LONGEST_NAME, PRESETS, Profile
from ventplanner.ui.log import config_folder, log

FOLDER = "profiles"
MOST = 500
"""So many files are looked at."""


class Profiles:
    """`own` are the user's, by name. `problem` says in sentences for the user what could not be read; "" if nothing.

    Names differ if they differ in more than capitals and blanks. Names of ready-made profiles are theirs alone.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self.folder = config_folder() / FOLDER if folder is None else folder
        self.problem = ""
        self._own: dict[str, tuple[Profile, Path]] = {}
        self.reload()

    @property
    def own(self) -> tuple[Profile, ...]:
        """The user's profiles, by name."""
        return tuple(sorted((p for p, _ in self._own.values()), key=lambda p: p.name.casefold()))

    @property
    def every(self) -> tuple[Profile, ...]:
        """The user's, then the ready-made ones."""
        return (*self.own, *PRESETS)

    def get(self, name: str) -> Profile | None:
        """The profile of a name."""
        return next((p for p in self.every if key_of(p.name) == key_of(name)), None)

    def is_own(self, name: str) -> bool:
        """Whether a profile of this name is the user's."""
        return key_of(name) in self._own

    def reload(self) -> None:
        """Look into the folder. What is no profile is kept aside under another name, and told once."""
        self._own.clear()
        try:
            files = sorted(self.folder.glob("*.json"))[:MOST]
        except OSError as error:
            log.warning("%s cannot be looked at: %s", self.folder, error)
            return
        for path in files:
            try:
                profile = read_profile(path)
            except FileReadError as error:
                self._set_aside(path, error)
                continue
            own = self._apart(profile)
            self._own.setdefault(key_of(own.name), (own, path))

    def free_name(self, name: str) -> str:
        """This name, or the same with the first number that makes it free."""
        number, found = 1, name
        while self.get(found) is not None:
            number += 1
            found = f"{name[: LONGEST_NAME - 4].rstrip()} {number}"
        return found

    def check_name(self, name: str, but: str = "") -> str:
        """A name for a profile of the user's, tidied; ParameterError if it cannot be one. but: a name that may be
        taken, since it is the profile's own."""
        tidy = Profile(name=name).name
        if key_of(tidy) != key_of(but) and self.get(tidy) is not None:
            raise ParameterError(f"There is a profile called '{tidy}' already.", "Choose another name.")
        return tidy

    def save(self, profile: Profile) -> None:
        """Keep a profile under its name, in the place of the one that the user had under it; raises FileWriteError,
        and ParameterError for the name of a ready-made one."""
        self.reload()
        if any(key_of(p.name) == key_of(profile.name) for p in PRESETS):
            raise ParameterError(f"'{profile.name}' is a ready-made profile.", "Save yours under another name.")
        _, path = self._own.get(key_of(profile.name), (profile, self._path(profile.name)))
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise write_error(self.folder, error) from error
        write_profile(path, profile, overwrite=True)
        self.reload()

    def rename(self, old: str, new: str) -> Profile:
        """Give a profile of the user's another name; raises ParameterError and FileWriteError."""
        self.reload()
        if key_of(old) not in self._own:
            raise ParameterError(f"The profile '{old}' is not there any more.", "Save it under the new name instead.")
        profile, path = self._own[key_of(old)]
        renamed = profile.named(self.check_name(new, but=old))
        if key_of(new) == key_of(old):
            write_profile(path, renamed, overwrite=True)
            self.reload()
        else:
            self.save(renamed)
            if self._own[key_of(renamed.name)][1] != path:
                self._remove(path)
        return renamed

    def delete(self, name: str) -> None:
        """Forget a profile of the user's; raises FileWriteError."""
        self.reload()
        if key_of(name) in self._own:
            self._remove(self._own[key_of(name)][1])

    def _remove(self, path: Path) -> None:
        try:
            path.unlink(missing_ok=True)
        except OSError as error:
            raise FileWriteError(
                f"{path} cannot be removed ({error.strerror}).", "Remove it in the folder yourself."
            ) from error
        self.reload()

    def _apart(self, profile: Profile) -> Profile:
        """A file that a person put there may bear the name of a ready-made profile."""
        if any(key_of(p.name) == key_of(profile.name) for p in PRESETS):
            return profile.named(f"{profile.name[: LONGEST_NAME - 6]} (own)")
        return profile

    def _path(self, name: str) -> Path:
        """A file name that every system takes, for whatever letters a name has."""
        plain = re.sub(r"[^a-z0-9]+", "-", key_of(name)).strip("-")[:30]
        digest = hashlib.sha256(key_of(name).encode()).hexdigest()[:8]
        return self.folder / f"{plain or 'profile'}-{digest}.json"

    def _set_aside(self, path: Path, error: FileReadError) -> None:
        told = f"A saved profile could not be read: {error.cause}"
        log.warning("%s", told)
        aside = path.with_name(f"{path.name}.broken")
        number = 1
        while aside.exists():
            number += 1
            aside = path.with_name(f"{path.name}.broken{number}")
        try:
            path.replace(aside)
        except OSError as failure:
            log.warning("%s could not be set aside: %s", path, failure)
        else:
            told += f" It is kept as {aside.name}."
        self.problem = f"{self.problem} {told}".strip()


def key_of(name: str) -> str:
    """What tells names apart."""
    return " ".join(name.split()).casefold()
