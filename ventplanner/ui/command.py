"""What a command of the window is, and when it can be given."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ventplanner.ui.window import MainWindow

MENUS = ("File", "Edit", "View", "Section", "Part", "Vents", "Printing", "Help")


def always(_window: MainWindow) -> bool:
    """For commands that can be given at any time."""
    return True


def with_part(window: MainWindow) -> bool:
    """There is a part."""
    return window.session.state is not None


def looked_at(window: MainWindow) -> bool:
    """There is a part, and it was looked at."""
    return window.session.findings is not None


@dataclass(frozen=True)
class Command:
    """`name` is its id; `text` as in a menu, with "…" if it asks for more; `tip` says what it does in a sentence.

    `keys` are portable key sequences, the first is shown. `told` makes a text that says more, such as what is undone;
    `on` tells whether it is switched on, for commands that switch. `apart` draws a line above it in its menu.
    """

    name: str
    menu: str
    text: str
    do: Callable[[MainWindow], object]
    keys: tuple[str, ...] = ()
    tip: str = ""
    enabled: Callable[[MainWindow], bool] = always
    told: Callable[[MainWindow], str] | None = None
    on: Callable[[MainWindow], bool] | None = None
    apart: bool = False

    @property
    def plain(self) -> str:
        """The text without the mark of its letter."""
        return self.text.replace("&", "")
