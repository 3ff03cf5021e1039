"""The settings of the window: one JSON file, read tolerantly. Whatever is wrong with it, the window starts."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any, TypeVar

from ventplanner.ui.log import config_folder, log

NAME = "settings.json"
MOST_RECENT = 10
LARGEST_BYTES = 4_000_000

T = TypeVar("T", bool, int, float, str, list[Any], dict[str, Any])


class Settings:
    """Named values. A name that is missing, or whose value is of another kind than the default, has the default.

    `problem` says, in a sentence for the user, what was wrong with the file; "" if nothing was. Names that this
    version does not know are kept.
    """

    def __init__(self, path: Path | None = None) -> None:
        self.path = config_folder() / NAME if path is None else path
        self.problem = ""
        self._values: dict[str, Any] = {}
        try:
            self._values = self._loaded()
        except (OSError, ValueError, RecursionError) as error:
            self._set_aside(error)

    def get(self, name: str, default: T) -> T:
        """The value of a name, of the same kind as `default`; whole numbers are taken for numbers."""
        value = self._values.get(name)
        if type(default) is float and type(value) is int:
            value = float(value)
        return value if type(value) is type(default) else default

    def set(self, name: str, value: bool | int | float | str | list[Any] | dict[str, Any]) -> None:
        """Give a name a value; `save` makes it last."""
        self._values[name] = value

    def save(self) -> bool:
        """Write the file as a whole; False (and a line in the log) if the system does not let us."""
        try:
            text = json.dumps(self._values, indent=2, ensure_ascii=True, allow_nan=False)
            self.path.parent.mkdir(parents=True, exist_ok=True)
            draft = self.path.with_name(f".{self.path.name}-new")
            draft.write_text(text, encoding="utf-8")
            draft.replace(self.path)
        except (OSError, ValueError, TypeError) as error:
            log.warning("The settings could not be saved: %s", error)
            return False
        return True

    @property
    def recent(self) -> tuple[str, ...]:
        """Paths of files opened lately, the latest first."""
        return tuple(path for path in self.get("recent", []) if isinstance(path, str))[:MOST_RECENT]

    def add_recent(self, path: str) -> None:
        """This file was opened just now."""
        full = str(Path(path).absolute())
        self.set("recent", [full, *(p for p in self.recent if p != full)][:MOST_RECENT])

    def forget_recent(self, path: str = "") -> None:
        """Forget one file, or all."""
        self.set("recent", [p for p in self.recent if path and p != path])

    def _loaded(self) -> dict[str, Any]:
        try:
            size = self.path.stat().st_size
        except FileNotFoundError:
            return {}
        if size > LARGEST_BYTES:
            raise ValueError(f"it has {size} bytes")
        values = json.loads(self.path.read_text(encoding="utf-8"))
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
