"""The settings of the window: one JSON file, read tolerantly. Whatever is wrong with it, the window starts.

Several windows may be open at once, each a program of its own. So what is written is the file as it is then, with
what this window has changed: what another one has changed meanwhile stays.
"""

from __future__ import annotations

import json
import math
import secrets
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, TypeVar

from ventplanner.ui.filelock import holding
from ventplanner.ui.log import config_folder, log

NAME = "settings.json"
MOST_RECENT = 10
LARGEST_BYTES = 4_000_000
LARGEST_WHOLE = 2**31 - 1
"""No setting is a larger number; the graphics library takes none."""

LOCK_PATIENCE_S = 1.0

T = TypeVar("T", bool, int, float, str, list[Any], dict[str, Any])
Change = Callable[[dict[str, Any]], None]


class Settings:
    """Named values. A name that is missing, or whose value is of another kind than the default, has the default.

    `problem` says, in a sentence for the user, what was wrong with the file; "" if nothing was. Names that this
    version does not know are kept. Numbers that are none (NaN, infinite, beyond all use) are as good as missing.
    """

    def __init__(self, path: Path | None = None) -> None:
        self.path = config_folder() / NAME if path is None else path
        self.problem = ""
        self._values: dict[str, Any] = {}
        self._changes: list[Change] = []
        try:
            self._values = self._loaded() or {}
        except (OSError, ValueError, RecursionError) as error:
            self._set_aside(error)

    def get(self, name: str, default: T) -> T:
        """The value of a name, of the same kind as `default`; whole numbers are taken for numbers."""
        value = self._values.get(name)
        if type(value) is int and abs(value) > LARGEST_WHOLE:
            return default
        if type(default) is float and type(value) is int:
            value = float(value)
        return value if type(value) is type(default) else default

    def set(self, name: str, value: bool | int | float | str | list[Any] | dict[str, Any]) -> None:
        """Give a name a value; `save` makes it last. Raises ValueError for a number that is none."""
        if isinstance(value, float) and not math.isfinite(value):
            raise ValueError(f"{name} cannot be {value}")
        self._change(lambda values: values.update({name: value}))

    def save(self) -> bool:
        """Write what was changed into the file as it is now, whole; False (and a line in the log) if that fails."""
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with holding(self.path.with_suffix(".lock"), LOCK_PATIENCE_S):
                values = self._present()
                for change in self._changes:
                    change(values)
                self._write(values)
        except (OSError, ValueError, TypeError) as error:
            log.warning("The settings could not be saved: %s", error)
            return False
        self._values, self._changes = values, []
        return True

    @property
    def recent(self) -> tuple[str, ...]:
        """Paths of files opened lately, the latest first."""
        return _recent(self._values)

    def add_recent(self, path: str) -> None:
        """This file was opened just now."""
        full = str(Path(path).absolute())

        def add(values: dict[str, Any]) -> None:
            values["recent"] = [full, *(p for p in _recent(values) if p != full)][:MOST_RECENT]

        self._change(add)

    def forget_recent(self, path: str = "") -> None:
        """Forget one file, or all."""

        def forget(values: dict[str, Any]) -> None:
            values["recent"] = [p for p in _recent(values) if path and p != path]

        self._change(forget)

    def _change(self, change: Change) -> None:
        change(self._values)
        self._changes.append(change)

    def _present(self) -> dict[str, Any]:
        """The values in the file now; those known here if it is gone or has become unreadable."""
        try:
            found = self._loaded()
        except (OSError, ValueError, RecursionError) as error:
            self._set_aside(error)
            found = None
        return dict(self._values) if found is None else found

    def _write(self, values: dict[str, Any]) -> None:
        text = json.dumps(values, indent=2, ensure_ascii=True, allow_nan=False)
        draft = self.path.with_name(f".{self.path.name}-{secrets.token_hex(4)}")
        try:
            draft.write_text(text, encoding="utf-8")
            draft.replace(self.path)
        except OSError:
            with suppress(OSError):
                draft.unlink(missing_ok=True)
            raise

    def _loaded(self) -> dict[str, Any] | None:
        try:
            size = self.path.stat().st_size
        except FileNotFoundError:
            return None
        if size > LARGEST_BYTES:
            raise ValueError(f"it has {size} bytes")
        text = self.path.read_text(encoding="utf-8")
        values = json.loads(text, parse_float=_number, parse_constant=lambda _: None)
        if not isinstance(values, dict):
            raise ValueError("it holds no named values")
        return values

    def _set_aside(self, error: Exception) -> None:
        """Keep what cannot be read under another name, for whoever wants to mend it."""
        self.problem = f"The settings could not be read ({error}); the usual ones are used."
        log.warning("%s %s", self.path, self.problem)
        aside = self.path.with_name(f"{self.path.stem}-broken-{time.strftime('%Y%m%d-%H%M%S')}.json")
        try:
            self.path.replace(aside)
        except OSError as failure:
            log.warning("%s could not be set aside: %s", self.path, failure)
            return
        self.problem += f" The old file is kept as {aside.name}."


def _recent(values: dict[str, Any]) -> tuple[str, ...]:
    found = values.get("recent")
    return tuple(path for path in found if isinstance(path, str))[:MOST_RECENT] if isinstance(found, list) else ()


def _number(text: str) -> float | None:
    value = float(text)
    return value if math.isfinite(value) else None
