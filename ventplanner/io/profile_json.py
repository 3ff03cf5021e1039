"""Profiles as files: JSON, one object with the fields of `Profile`, each in the unit that its name ends in."""

from __future__ import annotations

import json
from dataclasses import asdict, fields
from pathlib import Path

from ventplanner.errors import FileReadError, ParameterError
from ventplanner.io.atomic import replacing
from ventplanner.profile import Profile

SCHEMA = "ventplanner-profile/1"
_LARGEST = 100_000


def encode_profile(profile: Profile) -> str:
    """The JSON text of a profile, every field written out."""
    return json.dumps(profile_object(profile), indent=2, ensure_ascii=False) + "\n"


def profile_object(profile: Profile) -> dict[str, object]:
    """The same as an object that can stand inside another file."""
    return {"schema": SCHEMA, **asdict(profile)}


def decode_profile(text: str, where: str) -> Profile:
    """The profile in a JSON text; fields that are not there have their defaults. where: the file's name, for messages.

    Raises FileReadError for what is no profile, a field that is unknown, or a value that is not allowed.
    """
    try:
        found = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise FileReadError(f"{where} is no profile: it is not JSON ({error!s:.80}).", _WAY_OUT) from None
    return profile_of(found, where)


def profile_of(found: object, where: str) -> Profile:
    """The profile of an object as `profile_object` makes it; fields that are not there have their defaults.

    where: what it is called in messages. Raises FileReadError as `decode_profile`.
    """
    if not isinstance(found, dict) or found.get("schema") != SCHEMA:
        raise FileReadError(f'{where} is no profile: it does not begin with "schema": "{SCHEMA}".', _WAY_OUT)
    values = {name: value for name, value in found.items() if name != "schema"}
    if strange := sorted(set(values) - {f.name for f in fields(Profile)}):
        raise FileReadError(f"{where} has a field that no profile has: {strange[0]:.40}.", "Correct it or take it out.")
    try:
        return Profile(**values)
    except ParameterError as error:
        raise FileReadError(f"{where}: {error.cause}", error.way_out) from None


def read_profile(path: str | Path) -> Profile:
    """Read a profile; raises FileReadError with the cause and the way out."""
    path = Path(path)
    try:
        if path.stat().st_size > _LARGEST:
            raise FileReadError(f"{path.name} is no profile: it is larger than {_LARGEST // 1000} kB.", _WAY_OUT)
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise FileReadError(f"{path} cannot be read ({error.strerror}).", "Check the path.") from None
    except UnicodeDecodeError:
        raise FileReadError(f"{path.name} is no profile: it is not text.", _WAY_OUT) from None
    return decode_profile(text, path.name)


def write_profile(path: str | Path, profile: Profile, overwrite: bool = False) -> None:
    """Write a profile; an existing file is replaced as a whole, and only if `overwrite`. Raises FileWriteError."""
    with replacing(Path(path), overwrite=overwrite) as draft:
        draft.path.write_text(encode_profile(profile), encoding="utf-8")
        draft.commit()


_WAY_OUT = "Save a profile from the program and change that."
