"""Rows that come and go above the view, while the part stays where it is on the screen."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QPoint
from PySide6.QtWidgets import QWidget

if TYPE_CHECKING:
    from ventplanner.ui.view.view import View


def keeping_still(stage: QWidget, view: View | None, change: Callable[[], object]) -> None:
    """Change what stands above the view in the stage: the picture neither moves on the screen nor gets another size,
    and is fitted again at the next change of the window if it was."""
    layout = stage.layout()
    if view is None or layout is None:
        change()
        return
    above, fitted = view.mapTo(stage, QPoint(0, 0)).y(), view.is_fitted
    view.is_fitted = False
    change()
    layout.activate()
    view.pan_rows(0.5 * (above - view.mapTo(stage, QPoint(0, 0)).y()))
    view.is_fitted = fitted
