"""Printer and resin: the form of a profile, made from its declared numbers, and the profiles that there are."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QStandardItemModel
from PySide6.QtWidgets import (
    QDialog,
    QFileDialog,
    QFrame,
    QHBoxLayout,
    QListWidget,
    QListWidgetItem,
    QScrollArea,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from ventplanner.errors import ParameterError, VentplannerError
from ventplanner.io.profile_json import read_profile, write_profile
from ventplanner.profile import PRESETS, Profile
from ventplanner.profile_parameters import GROUPS, PROFILE_PARAMETERS, ProfileParameter
from ventplanner.ui.dialogs.file_dialogs import dress_soon
from ventplanner.ui.dialogs.naming import Naming
from ventplanner.ui.dialogs.questions import ask, tell
from ventplanner.ui.dialogs.settings import Entry
from ventplanner.ui.panels.fields import Choice, button, label, row
from ventplanner.ui.units import sentence
from ventplanner.ui.words import file_name

if TYPE_CHECKING:
    from ventplanner.ui.bench import Bench

FILES = "Profiles (*.json)"
FIRST_GROUP = "resin"
OF_THE_PLAN = "Of this plan"


class ProfileDialog(QDialog):
    """Shows the profile in use first. What is changed lives in the form until it is saved; nothing of it is lost
    without a question, and what is used is always a profile that can be chosen again."""

    def __init__(self, bench: Bench, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Printer and resin")
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._bench = bench
        self._profiles = bench.profiles
        self._profiles.reload()
        self._base = bench.in_use
        self.entries: dict[str, Entry] = {}
        self.chosen = Choice()
        self.chosen.setAccessibleName("Profile")
        self.changed = label("", "muted")
        self.groups = QListWidget()
        self._pages = QStackedWidget()
        self.save = button("Save", lambda: self._save(_nothing), "quiet")
        self.save_as = button("Save as…", lambda: self._save_as(_nothing), "quiet")
        self.rename = button("Rename…", self._rename, "quiet")
        self.delete = button("Delete…", self._delete, "quiet")
        self.take_in = button("Import…", self._import, "quiet", name="Import a profile")
        self.give_out = button("Export…", self._export, "quiet", name="Export the profile")
        self.cancel = button("Cancel", self.reject)
        self.use = button("Use it", self.accept, "primary")
        self._build()
        self.show_profile(self._base)
        self.resize(700, 620)

    def _build(self) -> None:
        tall = self.groups.fontMetrics().height() + 14
        for group in GROUPS:
            item = QListWidgetItem(group.capitalize())
            item.setSizeHint(QSize(0, tall))  # the style is not known yet
            self.groups.addItem(item)
            self._pages.addWidget(self._page(group))
        self.groups.setAccessibleName("Groups of numbers")
        self.groups.setFixedWidth(130)
        self.groups.currentRowChanged.connect(self._pages.setCurrentIndex)
        self.groups.setCurrentRow(GROUPS.index(FIRST_GROUP))
        self.chosen.activated.connect(lambda _: self._choose(self.chosen.currentData()))
        self.use.setDefault(True)
        head = QHBoxLayout()
        head.setSpacing(10)
        name = label("Profile")
        name.setBuddy(self.chosen)
        self.chosen.setMinimumWidth(260)
        head.addWidget(name)
        head.addWidget(self.chosen)
        head.addWidget(self.changed, 1)
        middle = QHBoxLayout()
        middle.setSpacing(14)
        middle.addWidget(self.groups)
        middle.addWidget(self._pages, 1)
        end = row(label("Every figure that follows from these numbers is an estimate.", "muted"), stretch=True)
        end.addWidget(self.cancel)
        end.addWidget(self.use)
        column = QVBoxLayout(self)
        column.setContentsMargins(22, 18, 22, 16)
        column.setSpacing(8)
        column.addLayout(head)
        tools = (self.save, self.save_as, self.rename, self.delete, self.take_in, self.give_out)
        column.addLayout(row(*tools, spacing=2))
        column.addSpacing(4)
        column.addLayout(middle, 1)
        column.addSpacing(4)
        column.addLayout(end)

    def _page(self, group: str) -> QScrollArea:
        form = QWidget()
        rows = QVBoxLayout(form)
        rows.setContentsMargins(4, 0, 12, 0)
        rows.setSpacing(2)
        for parameter in PROFILE_PARAMETERS.values():
            if parameter.group == group:
                entry = Entry(parameter, _about(parameter), "mm/min")  # type: ignore[arg-type]  # float is an object
                entry.edited.connect(self._show_state)
                self.entries[parameter.name] = entry
                rows.addWidget(entry)
        rows.addStretch(1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setAccessibleName(group.capitalize())
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setWidget(form)
        return area

    # What is shown

    def show_profile(self, profile: Profile) -> None:
        """Show a profile that there is."""
        self._base = profile
        for name, entry in self.entries.items():
            entry.show_value(getattr(profile, name))
        self._list_profiles()
        self._show_state()

    def _list_profiles(self) -> None:
        self.chosen.clear()
        kept = () if self._bench.can_be_chosen else (self._bench.in_use,)
        for title, profiles in ((OF_THE_PLAN, kept), ("Yours", self._profiles.own), ("Ready-made", PRESETS)):
            if not profiles:
                continue
            self.chosen.addItem(title)
            model = self.chosen.model()
            if isinstance(model, QStandardItemModel):
                model.item(self.chosen.count() - 1).setEnabled(False)
            for profile in profiles:
                self.chosen.addItem(f"   {profile.name}", OF_THE_PLAN if title == OF_THE_PLAN else profile.name)
        shown = OF_THE_PLAN if self._is_kept else self._base.name
        at = next((k for k in range(self.chosen.count()) if self.chosen.itemData(k) == shown), -1)
        self.chosen.setCurrentIndex(at)

    def _show_state(self) -> None:
        own, changed = self._is_own, self.is_changed
        kept = "of this plan, not among yours" if self._is_kept else "ready-made"
        self.changed.setText("changed, not saved" if changed else "yours" if own else kept)
        self.save.setEnabled(changed and own)
        self.rename.setEnabled(own)
        self.delete.setEnabled(own)
        text = "Use it" if not changed else "Save and use" if own else "Save as… and use"
        self.use.setText(text)
        self.use.setAccessibleName(text)

    @property
    def _is_kept(self) -> bool:
        """Whether what is shown is kept by the plan alone."""
        return self._base == self._bench.in_use and not self._bench.can_be_chosen

    @property
    def _is_own(self) -> bool:
        return not self._is_kept and self._profiles.is_own(self._base.name)

    @property
    def is_changed(self) -> bool:
        """Whether the form differs from the profile that it began with."""
        return any(self._differs(name, entry) for name, entry in self.entries.items())

    def _differs(self, name: str, entry: Entry) -> bool:
        try:
            return bool(entry.value() != getattr(self._base, name))
        except ParameterError:
            return True

    def draft(self) -> Profile | None:
        """The profile as it stands in the form; None if something in it is not allowed, which is then shown."""
        for name, entry in self.entries.items():
            if entry.problem():
                self._go_to(name)
                return None
        values: dict[str, Any] = {name: entry.value() for name, entry in self.entries.items()}
        try:
            return replace(self._base, **values)
        except ParameterError as error:
            tell(self, error, "These numbers do not go together")
            return None

    def _go_to(self, name: str) -> None:
        self.groups.setCurrentRow(GROUPS.index(PROFILE_PARAMETERS[name].group))
        self.entries[name].field.setFocus()

    # What is done

    def accept(self) -> None:
        """Use what is shown; what was changed is saved first."""
        if self.is_changed:
            self._save(self._use)
        else:
            self._use()

    def _use(self) -> None:
        if not self._is_kept:  # it is in use already, and for other parts it cannot be
            self._bench.use(self._base)
        super().accept()

    def reject(self) -> None:
        """Close; changes are not lost without a question."""
        self._leave(super().reject)

    def _leave(self, do: Callable[[], object]) -> None:
        """Do what would lose changes, once that is agreed to."""
        if not self.is_changed:
            do()
            return
        title = f"Save what you changed in '{self._base.name}'?"
        answer = ask(self, title, ["It is lost otherwise."], "Save", "Stay", "Do not save")
        if answer == "Do not save":
            do()
        elif answer == "Save":
            self._save(do)

    def _choose(self, name: str | None) -> None:
        profile = None if name is None else self._bench.in_use if name == OF_THE_PLAN else self._profiles.get(name)
        self._list_profiles()  # until the changes are dealt with, the one before is shown
        if profile is not None and profile != self._base:
            self._leave(lambda: self.show_profile(profile))

    def _save(self, then: Callable[[], object]) -> None:
        """Save under the name that it has; a ready-made one is saved under another."""
        if not self._is_own:
            self._save_as(then)
            return
        draft = self.draft()
        if draft is not None:
            self._keep(draft, then)

    def _save_as(self, then: Callable[[], object]) -> None:
        draft = self.draft()
        if draft is None:
            return
        given = self._profiles.free_name(draft.name)
        do: Callable[[str], object] = lambda name: self._keep(draft.named(name), then)  # noqa: E731
        Naming(self, "Save as…", given, self._profiles.check_name, do).open()

    def _keep(self, profile: Profile, then: Callable[[], object]) -> None:
        before = self._profiles.get(profile.name)
        if self._done(lambda: self._profiles.save(profile), "Not saved"):
            if before is not None:
                self._bench.replaced(before, profile)
            self.show_profile(profile)
            then()

    def _rename(self) -> None:
        old = self._base.name
        check: Callable[[str], str] = lambda name: self._profiles.check_name(name, but=old)  # noqa: E731
        Naming(self, "Rename…", old, check, lambda name: self._renamed(old, name)).open()

    def _renamed(self, old: str, new: str) -> None:
        """Under another name; what was changed in the form stays changed."""
        before = self._base
        if self._done(lambda: self._profiles.rename(old, new), "Not renamed"):
            self._base = self._profiles.get(new) or self._base.named(new)
            self._bench.replaced(before, self._base)
            self._list_profiles()
            self._show_state()

    def _delete(self) -> None:
        name, texts = self._base.name, ["This cannot be undone."]
        before = self._base
        if self._bench.in_use == before:
            texts.append(f"It is in use: '{Profile().name}' takes its place.")
        if ask(self, f"Delete the profile '{name}'?", texts, "Delete it", "Keep it", safe=True) == "Keep it":
            return
        if self._done(lambda: self._profiles.delete(name), "Not deleted"):
            self._bench.replaced(before, Profile())
            self.show_profile(self._bench.in_use)

    def _import(self) -> None:
        self._leave(self._ask_and_import)

    def _ask_and_import(self) -> None:
        dress_soon(self)
        path, _ = QFileDialog.getOpenFileName(self, "Import a profile", str(Path.home()), FILES)
        if not path:
            return
        found: list[Profile] = []
        if not self._done(lambda: found.append(read_profile(path)), "Not imported"):
            return
        profile = found[0]
        if self._profiles.get(profile.name) is None:
            self._keep(profile, _nothing)
            return
        given = self._profiles.free_name(profile.name)
        do: Callable[[str], object] = lambda name: self._keep(profile.named(name), _nothing)  # noqa: E731
        Naming(self, "Save as…", given, self._profiles.check_name, do).open()

    def _export(self) -> None:
        draft = self.draft()
        if draft is None:
            return
        dress_soon(self)
        stem = "".join(c if c.isalnum() else "-" for c in draft.name).strip("-") or "profile"
        given = str(Path.home() / f"{stem}.json")
        path, _ = QFileDialog.getSaveFileName(self, "Export the profile", given, FILES)
        if path:
            target = path if path.lower().endswith(".json") else f"{path}.json"
            # The file dialog has asked already, but only about the name it knew.
            write = lambda: write_profile(target, draft, overwrite=target == path)  # noqa: E731
            if self._done(write, "Not exported"):
                self.changed.setText(f"written to {file_name(target)}")

    def _done(self, do: Callable[[], object], what: str) -> bool:
        try:
            do()
        except VentplannerError as error:
            tell(self, error, what)
            return False
        return True


def _nothing() -> None: ...


def _about(parameter: ProfileParameter) -> str:
    """What it means, what may be given, what is usual and where that comes from."""
    text = f"{parameter.text[:1].upper()}{parameter.text[1:]}."
    usual = sentence(parameter.default_text).replace(" ", "\u00a0")
    return f"{sentence(f'{text} Give {parameter.range_text}.')} Usual: {usual} ({parameter.source})."
