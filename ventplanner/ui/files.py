"""Open, save, export, close: what asks for files and for consent before anything is lost."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject
from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import QFileDialog, QLineEdit, QWidget

from ventplanner import resources
from ventplanner.ui.dialogs.file_dialogs import dress_soon
from ventplanner.ui.dialogs.questions import ask
from ventplanner.ui.units import sentence, system
from ventplanner.ui.words import count, file_name

if TYPE_CHECKING:
    from ventplanner.sheet_parameters import Paper
    from ventplanner.ui.session import Session
    from ventplanner.ui.settings import Settings

PARTS = "Parts and plans (*.stl *.3mf *.obj *.ply *.off *.ventplan)"
MODELS = "Models (*.stl *.3mf *.obj *.ply *.off)"
PLANS = "Plans (*.ventplan)"
SHEETS = {
    "PDF, A4 (*.pdf)": ".pdf",
    "PDF, Letter (*.pdf)": ".pdf",
    "HTML (*.html)": ".html",
    "Holes as a table (*.csv)": ".csv",
}
WRITABLE = ("stl", "3mf", "obj", "ply")
NOT_KNOWN = "What the vents do is not known yet: export when the part has been looked at."
SUFFIXES = (".stl", ".3mf", ".obj", ".ply", ".off", ".ventplan")


class Files(QObject):
    """Asks for names and consent; the session does the work."""

    def __init__(self, session: Session, settings: Settings, window: QWidget) -> None:
        super().__init__(window)
        self._session = session
        self._settings = settings
        self._window = window
        self._when_saved: Callable[[], object] | None = None
        self.asked_for = ""
        """Path of the file that was last asked to be opened."""
        session.saved.connect(self._saved)
        session.failed.connect(lambda _error, _what: self._forget())

    @property
    def recent(self) -> Sequence[str]:
        """Files that were open before, the last one first; only those that are still there."""
        # os.path.exists is False for what no system takes as a name, and for what it may not look into.
        return [path for path in self._settings.recent if os.path.exists(path)]  # noqa: PTH110

    @property
    def samples(self) -> Sequence[str]:
        """The parts that ship with the program."""
        return [str(path) for path in resources.samples()]

    def ask_and_open(self) -> None:
        """Ask for a file and open it."""
        dress_soon(self._window)
        path, _ = QFileDialog.getOpenFileName(self._window, "Open", self._folder(), f"{PARTS};;All files (*)")
        if path:
            self.open(path)

    def ask_for_supports(self) -> None:
        """Ask for a file of supports and mind them."""
        dress_soon(self._window)
        chosen = QFileDialog.getOpenFileName(self._window, "Load supports", self._folder(), f"{MODELS};;All files (*)")
        if chosen[0]:
            self._session.load_supports(chosen[0])

    def open(self, path: str) -> None:
        """Open a file, unless unsaved work shall not be lost."""
        self.leave_and(lambda: self._open(str(path)))

    def _open(self, path: str) -> None:
        self.asked_for = path
        self._session.open(path)

    def remember(self, path: str) -> None:
        """Put a file at the head of those used lately; samples are listed elsewhere."""
        if path and path not in self.samples:
            self._settings.add_recent(path)
            self._settings.save()

    def save(self) -> bool:
        """Save where the plan was saved before, else ask; returns whether it is saved."""
        self._finish_typing()
        if not self._session.plan_path:
            return self.save_as()
        self._session.save(self._session.plan_path)
        return True

    def save_as(self) -> bool:
        """Ask for a name and save there."""
        self._finish_typing()
        name = self._session.plan_path or str(Path(self._folder()) / f"{self._stem()}.ventplan")
        dress_soon(self._window)
        path, _ = QFileDialog.getSaveFileName(self._window, "Save the plan with its part", name, PLANS)
        if not path:
            return False
        target = path if path.lower().endswith(".ventplan") else f"{path}.ventplan"
        # The file dialog has asked already, but only about the name it knew.
        if target != path and os.path.exists(target) and not self._agreed_to_replace(target):  # noqa: PTH110
            return False
        self._session.save(target)
        return True

    def _agreed_to_replace(self, path: str) -> bool:
        text = f"{file_name(path)} is in this folder already."
        return (
            ask(self._window, "Replace the plan that is there?", [text], "Replace it", "Keep it", safe=True)
            == "Replace it"
        )

    def export(self) -> None:
        """Drill and write; what is left to do is shown first, and agreed to once."""
        self._finish_typing()
        session = self._session
        if session.state is None or not self._agreed_to_leave():
            return
        suffix = Path(session.path).suffix.lower().lstrip(".")
        suffix = suffix if suffix in WRITABLE else "stl"
        filters = [f"{kind.upper()} (*.{kind})" for kind in (suffix, *(k for k in WRITABLE if k != suffix))]
        name = str(Path(self._folder()) / f"{self._stem()}-vented.{suffix}")
        dress_soon(self._window)
        path, chosen = QFileDialog.getSaveFileName(self._window, "Drill and export", name, ";;".join(filters))
        if path:
            given = Path(path).suffix.lower().lstrip(".")
            kind = chosen[: chosen.find(" ")].lower() if chosen else suffix
            target = path if given in WRITABLE else f"{path}.{kind}"
            # The file dialog has asked already, but only about the name it knew.
            session.export(target, overwrite=target == path)

    def write_sheet(self) -> None:
        """Ask for a name and write the sheet of the last export there."""
        session = self._session
        exported = session.last_export
        if exported is None or not session.may_write_sheet:
            return
        name = str(Path(exported.path).with_name(f"{Path(exported.path).stem}-sheet.pdf"))
        dress_soon(self._window)
        path, chosen = QFileDialog.getSaveFileName(self._window, "Write the sheet", name, ";;".join(SHEETS))
        if path:
            kind = SHEETS.get(chosen, ".pdf")
            target = path if Path(path).suffix.lower() in SHEETS.values() else f"{path}{kind}"
            paper: Paper = "letter" if "Letter" in chosen else "a4"
            session.write_sheet(target, paper, overwrite=target == path, lengths=system())

    def _agreed_to_leave(self) -> bool:
        """Whether what is left to do may stay; that is asked only when it is known of the present plan."""
        if self._session.findings is None or self._session.stale or not self._session.is_known:
            self._session.said.emit(NOT_KNOWN)
            return False
        left = [sentence(x.text) for x in self._session.left]
        if not self._session.plan.vents:
            left.insert(0, "No vent is accepted: no hole will be drilled.")
        if not left:
            return True
        title = f"{count(len(left), 'thing is', 'things are')} left to do"
        return (
            ask(self._window, title, left, "Export all the same", "Go on working", safe=True) == "Export all the same"
        )

    def close_part(self) -> None:
        """Close the part, unless unsaved work shall not be lost."""
        self.leave_and(self._session.close_part)

    def leave_and(self, do: Callable[[], object]) -> None:
        """Do what ends the work at hand; if it is not saved, ask first, and save first if that is wanted."""
        self._finish_typing()
        self._forget()
        if self._session.state is None or not self._session.is_unsaved:
            do()
            return
        title = f"Save the work on {file_name(self._session.path) or 'the part'}?"
        since = f" since it was last saved as {file_name(self._session.plan_path)}" if self._session.plan_path else ""
        text = f"What you decided about its vents{since} is lost otherwise."
        answer = ask(self._window, title, [text], "Save", "Stay", "Do not save")
        if answer == "Do not save":
            do()
        elif answer == "Save":
            self._when_saved = do
            if not self.save():
                self._forget()

    def _finish_typing(self) -> None:
        """A key such as Ctrl+S leaves the cursor in its field: what stands there counts as entered."""
        field = self._window.focusWidget()
        if isinstance(field, QLineEdit) and field.isModified():
            field.editingFinished.emit()

    def _saved(self, path: str) -> None:
        self.remember(path)
        do, self._when_saved = self._when_saved, None
        if do is not None:
            self.leave_and(do)  # something may have been decided while the plan was being written

    def _forget(self) -> None:
        self._when_saved = None

    def usual_folder(self) -> str:
        """Where a new file belongs: beside the part, or where the last one was."""
        return self._folder()

    def _folder(self) -> str:
        path = self._session.plan_path or self._session.path
        if path and path not in self.samples:
            return str(Path(path).parent)
        return str(Path(self._settings.recent[0]).parent) if self._settings.recent else str(Path.home())

    def _stem(self) -> str:
        return Path(self._session.path).stem or "part"


def dropped(event: QDropEvent) -> str:
    """The first file of a kind that can be opened of those that are dropped, "" if there is none."""
    paths = [url.toLocalFile() for url in event.mimeData().urls() if url.isLocalFile()]
    return next((path for path in paths if path.lower().endswith(SUFFIXES)), "")
