"""The main window: it puts the panels together, and gives them the session and the commands."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QSize, Qt, QTimer
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDragLeaveEvent, QDropEvent, QResizeEvent
from PySide6.QtWidgets import QMainWindow, QSplitter, QStackedWidget, QVBoxLayout, QWidget

from ventplanner.errors import Cancelled, NotVerifiedError
from ventplanner.ui import menus, units
from ventplanner.ui.bench import Bench
from ventplanner.ui.dialogs.colours import offer_colours
from ventplanner.ui.dialogs.dialogs import Dialogs
from ventplanner.ui.dialogs.questions import tell
from ventplanner.ui.draining import Draining
from ventplanner.ui.files import Files, dropped
from ventplanner.ui.mending_offer import MendingOffer
from ventplanner.ui.orienting import Orienting
from ventplanner.ui.panels.busy import Busy
from ventplanner.ui.panels.card import LEAST_WIDTH, CardPanel
from ventplanner.ui.panels.corner import Corner
from ventplanner.ui.panels.facts import Facts
from ventplanner.ui.panels.hollow_card import HollowCard
from ventplanner.ui.panels.notices import Notices, tell_file_changed
from ventplanner.ui.panels.opening import Opening
from ventplanner.ui.panels.result_card import ResultCard
from ventplanner.ui.panels.stage import Stage
from ventplanner.ui.panels.todo import ToDo
from ventplanner.ui.panels.tree import CavityTree
from ventplanner.ui.panels.verdict import VerdictLine
from ventplanner.ui.panels.welcome import Welcome
from ventplanner.ui.place import Place
from ventplanner.ui.preferences import Preferences
from ventplanner.ui.recovery import Recovery
from ventplanner.ui.selection import cavity_of
from ventplanner.ui.theme import Choice, Theme
from ventplanner.ui.units import edit_name, sentence
from ventplanner.ui.words import file_name
from ventplanner.ui.work.files import stamp_of

if TYPE_CHECKING:
    from ventplanner.ui.session import Session
    from ventplanner.ui.settings import Settings
    from ventplanner.ui.view.view import View
    from ventplanner.ui.work.messages import Exported


ROOM_FOR_UNDO = 1100
HINT = (
    "Dashed outlines are proposed vents. Click one to read why it is there; Return accepts it, N goes to the next."
    " Drag one along the skin to put it elsewhere."
)


class MainWindow(QMainWindow):
    """`session` is the work, `files` asks for names and consent, `stage` holds view and chart."""

    def __init__(self, session: Session, settings: Settings, theme: Theme) -> None:
        super().__init__()
        self.session = session
        self.settings = settings
        self.theme = theme
        self.preferences = Preferences.of(settings)
        self.files = Files(session, settings, self)
        self._recovery = Recovery(session, self.files, self)
        self.actions_by_name = menus.make_actions(self)
        self.dialogs = Dialogs(session, self.actions_by_name, self)
        self.bench = Bench(session, settings, self.dialogs.show_profile)
        self.stage = Stage(session, self.actions_by_name)
        self.tree = CavityTree(session)
        self.card = CardPanel(session)
        self.todo = ToDo(session, self.files.export, self.dialogs.show_hollow)
        self.verdict = VerdictLine(session)
        self.welcome = Welcome(self.files.ask_and_open, self.files.open, self.files.samples)
        self.opening = Opening(session)
        self.notices = Notices()
        self.section_on = self.face_mode = self._leaving = self._closing = self._keep_unsaved = False
        self._place = Place(self, settings)
        self._errors_shown: set[str] = set()
        self._build()
        self._connect()
        self._place.restore()
        self._apply_preferences()
        self.show_session()

    def _build(self) -> None:
        self.setWindowTitle("ventplanner")
        self._path_before = ""
        self.setMinimumSize(QSize(920, 560))
        self.setAcceptDrops(True)
        self.splitter = QSplitter(Qt.Orientation.Horizontal)
        self.splitter.setHandleWidth(1)
        self.splitter.setChildrenCollapsible(False)
        for at, (panel, least) in enumerate(((self.tree, 210), (self.stage, 400), (self.card, LEAST_WIDTH))):
            panel.setMinimumWidth(least)
            self.splitter.addWidget(panel)
            self.splitter.setStretchFactor(at, int(panel is self.stage))
        work = QWidget()
        column = QVBoxLayout(work)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.notices)
        column.addWidget(self.verdict)
        column.addWidget(self.splitter, 1)
        column.addWidget(self.todo)
        self.pages = QStackedWidget()
        for page in (self.welcome, self.opening, work):
            self.pages.addWidget(page)
        self.setCentralWidget(self.pages)
        menus.fill_menu_bar(self, self.actions_by_name)
        self._tools = Corner(self.actions_by_name, self.dialogs.show_search)  # kept: the menu bar does not
        self.undo, self.redo, self.search = self._tools.undo, self._tools.redo, self._tools.search
        self.menuBar().setCornerWidget(self._tools, Qt.Corner.TopRightCorner)
        self._facts = Facts(self.session)
        self.busy = Busy(self.session)
        self.statusBar().setSizeGripEnabled(False)
        self.statusBar().setFixedHeight(self.busy.cancel.sizeHint().height() + 8)
        self.statusBar().addWidget(self._facts, 1)
        self.statusBar().addPermanentWidget(self.busy)
        self.statusBar().addPermanentWidget(self.bench.button)

    def _connect(self) -> None:
        session = self.session
        session.changed.connect(self.show_session)
        session.job_changed.connect(self.show_session)
        session.selection_changed.connect(self.refresh_commands)
        session.plan_changed.connect(self._tell_refusal)
        session.failed.connect(self.show_failure)
        session.exported.connect(self._exported)
        chart = partial(self.stage.set_quantity, "section")
        session.hollowed.connect(lambda facts: self.card.show_card(HollowCard(session, facts, chart)))
        self._mending, self.draining, self.orienting = MendingOffer(self), Draining(self), Orienting(self)
        session.file_changed.connect(self._file_changed)
        session.said.connect(self.say)
        session.part_changed.connect(self._part_changed)
        session.file_colours.changed.connect(self.refresh_commands)
        session.file_colours.changed.connect(partial(offer_colours, self))
        self.stage.section_changed.connect(self._section_changed)
        self.stage.quantity_changed.connect(self.refresh_commands)
        self.stage.marking_changed.connect(self.refresh_commands)
        self.stage.said.connect(self.say)
        self.stage.face_mode_ended.connect(lambda: self._set_face_mode(False))
        self.theme.changed.connect(self._show_icons)
        self._show_icons()

    # What is shown

    def show_session(self) -> None:
        """Show the page that fits, the title, what is known of the part, and what can be done."""
        session = self.session
        if session.state is not None:
            self.pages.setCurrentIndex(2)
        elif session.job is not None and session.job.name == "Opening":
            self.opening.show_file(session.path or self.files.asked_for)
            self.pages.setCurrentIndex(1)
        else:
            self.pages.setCurrentIndex(0)
            self.welcome.show_recent(self.files.recent)
        name = file_name(session.plan_path or session.path)
        self.setWindowTitle(f"{name}[*] – ventplanner" if name else "ventplanner")
        modified = session.state is not None and session.is_unsaved
        if modified != self.isWindowModified():  # the desktop is told each time, which takes a moment
            self.setWindowModified(modified)
        self._facts.show_session()
        self.bench.follow(self.notices)
        self.busy.setVisible(self.pages.currentIndex() != 1)
        self._give_hint()
        self.refresh_commands()

    def refresh_commands(self) -> None:
        """What can be done now."""
        menus.refresh(self, self.actions_by_name)
        self._name_undo()

    def _name_undo(self) -> None:
        """Undo says what it takes back, where there is room for it."""
        edit = self.session.undo_name if self.width() > ROOM_FOR_UNDO else None
        self._tools.name_undo(edit_name(edit or ""))
        if self._tools.sizeHint() != self._tools.size():
            # The menu bar asks for the size of its corner only when it is given one.
            self.menuBar().setCornerWidget(self._tools, Qt.Corner.TopRightCorner)

    def _show_icons(self) -> None:
        self.stage.set_dark(self.theme.colours.dark)
        self._tools.show_icons()

    def _part_changed(self) -> None:
        self.files.remember(self.session.path)
        if self.session.path != self._path_before:  # not for the same part in another unit, or read again
            self._path_before = self.session.path
            self.stage.look_afresh()
            QTimer.singleShot(0, partial(self._recovery.offer, self.notices))
        self._set_face_mode(False)
        self.notices.clear()
        self.bench.tell_problems(self.notices)

    def _section_changed(self, on: bool) -> None:
        self.section_on = on
        self.refresh_commands()

    def _give_hint(self) -> None:
        """The first times that there are proposals: how to go on from here, as long as there are any."""
        if self.session.proposals and not self.settings.get("hint_read", False):
            self.notices.say(HINT, ("Understood", partial(self._keep_setting, "hint_read", True)))
        elif self.session.plan.vents and not self.session.proposals:
            self.notices.take_back(HINT)

    def _keep_setting(self, name: str, value: bool | str) -> None:
        self.settings.set(name, value)
        self.settings.save()

    def _exported(self, exported: Exported) -> None:
        if exported.verified:
            self.card.show_card(ResultCard(self.session, exported, self.files.write_sheet))
            self.say(f"Verified and written: {exported.path}")
        else:
            tell(self, NotVerifiedError(exported.differences), f"{file_name(exported.path)} was not written")

    def _tell_refusal(self) -> None:
        """Why the vent that is dragged does not fit where the pointer is."""
        if self.session.drag_refusal:
            self.say(f"It does not fit there: {sentence(self.session.drag_refusal)}.")

    def _file_changed(self, path: str) -> None:
        tell_file_changed(self.notices, path, stamp_of(path) is None, partial(self.session.reload, path))

    def offer_recovery(self) -> None:
        """Offer to go on with work that a crash interrupted; say what was wrong with the settings."""
        if self.settings.problem:
            self.welcome.notices.say(self.settings.problem, ("Understood", lambda: None))
        self.bench.tell_problems(self.welcome.notices)
        if self.session.state is None:
            self._recovery.offer(self.welcome.notices)

    def show_failure(self, error: object, what: str) -> None:
        """Tell what failed."""
        if isinstance(error, Cancelled):
            self.say(str(error))
        elif isinstance(error, BaseException):
            tell(self, error, what)

    def show_unforeseen(self, error: BaseException) -> None:
        """Tell of an error that nobody expected; the same one only once."""
        key = f"{type(error).__name__} {error}"
        if key not in self._errors_shown:
            self._errors_shown.add(key)
            tell(self, error, "")

    def say(self, text: str) -> None:
        """A word in the status bar, for a while."""
        self._facts.say(text)

    # What commands do

    @property
    def may_export(self) -> bool:
        """Whether the part is known well enough to be exported."""
        return self.todo.export.isEnabled() and self.session.state is not None

    def leave_cavity(self) -> None:
        """Go to the note of the selected cavity."""
        cavity = cavity_of(self.session, self.session.selected)
        if cavity:
            self.session.select(f"cavity {cavity}")
            start = getattr(self.card.card, "start_note", None)
            if start is not None:
                start()

    def with_view(self, do: Callable[[View], object]) -> None:
        """Do something with the view, if it is there already."""
        if self.stage.view is not None:
            do(self.stage.view)

    def set_hanging(self, hanging: bool) -> None:
        """Show the part standing or hanging."""
        if not self.draining.hold_as(hanging):
            self.stage.set_hanging(hanging)
        self.refresh_commands()

    def show_whole(self) -> None:
        """Show the part printed to its end."""
        self.stage.set_printed(None)

    def step_back(self) -> None:
        """End what was begun in the view, else go from what is selected to the whole part, at last end its card."""
        if not self.stage.give_up() and (self.session.selected or not (self.draining.end() or self.orienting.end())):
            self.session.select("")

    def switch_face_mode(self) -> None:
        """Choose the face that goes to the plate, or stop choosing."""
        self._set_face_mode(not self.face_mode)

    def _set_face_mode(self, on: bool) -> None:
        if self.face_mode and not on:
            self.say("")  # what was to be done is done, or given up
        self.face_mode = on
        self.stage.set_face_mode(on)
        if on:
            self.say("Click the face that goes to the plate. P again stops this.")
        self.refresh_commands()

    def switch_section(self) -> None:
        """Cut the picture open, or close it."""
        self.section_on = not self.section_on
        self.stage.set_section(self.section_on)
        self.refresh_commands()

    def choose_theme(self, choice: Choice) -> None:
        """Light, dark, or as the system says."""
        self.theme.choose(choice)
        self._keep_setting("theme", choice)
        self.refresh_commands()

    def prefer(self, preferences: Preferences) -> None:
        """Show and type in this unit, and let the mouse do this, from now on."""
        self.preferences = preferences
        preferences.keep(self.settings)
        self._apply_preferences()
        self.session.changed.emit()

    def _apply_preferences(self) -> None:
        units.use(self.preferences.unit)
        self.stage.set_mouse(self.preferences.turn, self.preferences.away_is_larger)

    def switch_full_screen(self) -> None:
        """The whole screen, or not."""
        self.setWindowState(self.windowState() ^ Qt.WindowState.WindowFullScreen)
        self.refresh_commands()

    # What the desktop does

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802 - Qt's name
        """Ask about unsaved work, then end all work."""
        if not self._leaving:
            self._closing = True
            self.files.leave_and(self._leave)
            self._closing = False
        if not self._leaving:
            event.ignore()  # the user stays, or the work is being saved first
            return
        self._place.keep()
        self.stage.shut_down()
        self.session.shutdown(keep_unsaved=self._keep_unsaved)
        super().closeEvent(event)

    def _leave(self) -> None:
        self._leaving = True
        if not self._closing:
            self.close()

    @property
    def is_leaving(self) -> bool:
        """Whether the window is closed, or about to be."""
        return self._leaving

    def leave_at_once(self) -> None:
        """End without questions, when nobody is there to answer; the journal keeps unsaved work."""
        self._keep_unsaved = True
        self._leave()

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:  # noqa: N802 - Qt's name
        """Files of a kind that can be opened are welcome."""
        if dropped(event):
            event.acceptProposedAction()
            self.welcome.show_drop(True)

    def dragLeaveEvent(self, event: QDragLeaveEvent) -> None:  # noqa: N802 - Qt's name
        """Not this time."""
        self.welcome.show_drop(False)
        super().dragLeaveEvent(event)

    def dropEvent(self, event: QDropEvent) -> None:  # noqa: N802 - Qt's name
        """Open what was dropped."""
        self.welcome.show_drop(False)
        path = dropped(event)
        if path:
            event.acceptProposedAction()
            self.files.open(path)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """In a narrow window the panels at the sides make room, unless the user has sized them."""
        super().resizeEvent(event)
        self._place.share_out()
        if hasattr(self, "undo"):
            self._name_undo()

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802 - Qt's name
        """The command for the full screen follows the window."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.WindowStateChange and hasattr(self, "undo"):
            self.refresh_commands()
