"""Opens the dialogs; none of them holds up the work."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt, QUrl
from PySide6.QtGui import QAction, QDesktopServices

from ventplanner.ui.dialogs.help_texts import (
    DRAINING,
    HARD_PLACES,
    HOLLOWING,
    HOW_IT_PRINTS,
    MENDING,
    ORIENTING,
    SUCTION,
)
from ventplanner.ui.dialogs.pages import About, History, Keys, Search, Texts
from ventplanner.ui.dialogs.preferences import PreferencesDialog
from ventplanner.ui.dialogs.settings import SettingsDialog
from ventplanner.ui.log import state_folder

if TYPE_CHECKING:
    from ventplanner.ui.session import Session
    from ventplanner.ui.window import MainWindow


class Dialogs(QObject):
    """One method for each dialog."""

    def __init__(self, session: Session, actions: dict[str, QAction], window: MainWindow) -> None:
        super().__init__(window)
        self._session = session
        self._actions = actions
        self._window = window

    def show_settings(self) -> None:
        """Pitch, filters and vents."""
        SettingsDialog(self._session, self._window).open()

    def show_hollow(self) -> None:
        """Hollow the part."""
        if self._session.state is None:
            return
        from ventplanner.ui.dialogs.hollow import HollowDialog  # made when it is first asked for

        form = HollowDialog(self._session, self._window, hanging=self._window.stage.hanging)
        form.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        form.open()

    def show_preferences(self) -> None:
        """Mouse, units and colours."""
        PreferencesDialog(self._window).open()

    def show_profile(self) -> None:
        """Printer and resin."""
        from ventplanner.ui.dialogs.profile import ProfileDialog  # made when it is first asked for

        ProfileDialog(self._window.bench, self._window).open()

    def show_test_piece(self) -> None:
        """The test piece, and what it tells."""
        from ventplanner.ui.dialogs.test_piece import TestPieceDialog  # made when it is first asked for

        TestPieceDialog(self._window.bench, self._window.files.usual_folder, self._window).open()

    def show_history(self) -> None:
        """All edits."""
        History(self._session, self._window).open()

    def show_search(self) -> None:
        """The command search."""
        Search(self._actions, self._window).open()

    def show_keys(self) -> None:
        """The page of keys."""
        Keys(self._actions, self._window).open()

    def show_how_it_prints(self) -> None:
        """The help page about layers and as printed."""
        Texts("How it prints", HOW_IT_PRINTS, self._window).open()

    def show_about_suction(self) -> None:
        """How suction is estimated."""
        Texts("How suction is estimated", SUCTION, self._window).open()

    def show_hard_places(self) -> None:
        """Other places, surfaces to be kept clear, passages, supports."""
        Texts("Vents in hard places", HARD_PLACES, self._window).open()

    def show_about_hollowing(self) -> None:
        """How a part is hollowed."""
        Texts("How a part is hollowed", HOLLOWING, self._window).open()

    def show_about_mending(self) -> None:
        """How a part is mended."""
        Texts("How a part is mended", MENDING, self._window).open()

    def show_about_draining(self) -> None:
        """How a part drains after the print."""
        Texts("How a part drains", DRAINING, self._window).open()

    def show_about_orienting(self) -> None:
        """How an orientation is found."""
        Texts("How an orientation is found", ORIENTING, self._window).open()

    def show_about(self) -> None:
        """Version and licence."""
        About(self._window).open()

    def show_log(self) -> None:
        """The folder of the log, in the system's way."""
        QDesktopServices.openUrl(QUrl.fromLocalFile(str(state_folder())))
