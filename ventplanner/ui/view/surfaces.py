"""Keeps the surfaces that the frames draw in step with the picture.

Surfaces take a moment to make. Until those of a new picture are there, the old ones stay, with the colours they have,
turned as the part is now: the part never goes from the screen while it is the same part.
"""

from __future__ import annotations

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from ventplanner.ui.picture import Mesh, Picture, ShownVent
from ventplanner.ui.view.colours import LIGHT, Colours
from ventplanner.ui.view.frames import Frames
from ventplanner.ui.view.loading import Cut, Loader, cut_through
from ventplanner.ui.view.picking import Aim
from ventplanner.ui.view.section import Outlines, Section
from ventplanner.ui.view.shapes import Shapes, have_same_cavities, have_same_shapes
from ventplanner.ui.view.shown import cavity_colours
from ventplanner.ui.view.turning import is_same_part, turn_between

REST_MS = 200

Cuts = tuple[tuple[Section, Outlines], ...]


class Surfaces(QObject):
    """`taken`: other surfaces are drawn from the next frame on. `outlined` brings the outlines of cuts in full."""

    taken = Signal()
    outlined = Signal(object)

    def __init__(self, frames: Frames, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._frames = frames
        self._loader = Loader(self)
        self._loader.ready.connect(self._have)
        self._loader.aimed.connect(self._have_aim)
        self._loader.outlined.connect(self._have_cut)
        self._picture: Picture | None = None
        self._in_hand = ""
        self._shapes: Shapes | None = None
        self._wanted: Picture | None = None
        self._made_of: Picture | None = None
        self._aim: Aim | None = None
        self._is_turned = False
        self._colours = LIGHT
        self._painted: tuple[object, ...] = ()
        self._supports: Mesh | None = None
        self._sections: tuple[Section, ...] = ()
        self._settle = QTimer(self)
        self._settle.setSingleShot(True)
        self._settle.setInterval(REST_MS)
        self._settle.timeout.connect(self._cut_in_full)

    @property
    def is_there(self) -> bool:
        """Whether anything of a part is drawn."""
        return self._shapes is not None

    @property
    def is_turned(self) -> bool:
        """True while what is drawn was made for another pose."""
        return self._is_turned

    @property
    def is_busy(self) -> bool:
        """True while surfaces, or outlines of cuts, are still being made."""
        return self._loader.is_busy or self._settle.isActive()

    @property
    def aim(self) -> Aim | None:
        """For rays to what is drawn, holes just drilled aside; None as long as they would not hit what is seen."""
        return None if self._is_turned else self._aim

    @property
    def has_names(self) -> bool:
        """True when the cavities that are drawn are those of the picture, so that a place has a name."""
        made_of, picture = self._made_of, self._picture
        return made_of is not None and picture is not None and have_same_cavities(made_of, picture)

    def follow(self, picture: Picture | None) -> None:
        """Draw this picture from now on."""
        before, self._picture = self._picture, picture
        if picture is None:
            self._loader.forget()
            self._take(None, None)
        elif not have_same_shapes(before, picture):
            if not self._is_poorer(picture):
                self._wanted = picture
                found = self._loader.want(picture)
                if found is not None:
                    self._take(found, picture)
                    return
            self._align()

    def set_colours(self, colours: Colours) -> None:
        """Light or dark."""
        self._colours = colours
        self._frames.tell(lambda stage: stage.set_colours(colours))
        self._painted = ()

    def hold(self, word: str) -> None:
        """The drill in hand ("" for none) is painted over the frames: with it in them, each step would need one."""
        self._in_hand = word
        self._frames.keep_moving()

    def paint(self) -> bool:
        """Colours of cavities, and drills that are not cut yet, as far as they changed; False if they did not."""
        if self._shapes is None:
            return False
        picture = self._picture
        vents = picture.vents if picture is not None and not self._is_cut() else ()
        drills = tuple(v for v in vents if v.status == "accepted" and v.word != self._in_hand)
        supports = picture.supports if picture is not None else None
        painted = (self._cavity_colours(), drills, supports)
        if painted == self._painted:
            return False
        self._tell_painted(*painted)
        return True

    def cut(self, sections: tuple[Section, ...]) -> Cuts:
        """Cut by these planes; the outlines are those of the stand-in until those in full come by `outlined`."""
        self._sections = sections
        self._frames.tell(lambda stage: stage.set_cuts(sections))
        if self._shapes is None or self._is_turned:
            return ()
        if self._shapes.has_stand_in and sections:
            self._settle.start()
        return cut_through(self._shapes.coarse, sections)

    def close(self) -> None:
        """End the threads."""
        self._settle.stop()
        self._loader.close()

    def _take(self, shapes: Shapes | None, made_of: Picture | None) -> None:
        self._shapes, self._made_of = shapes, made_of
        self._aim = self._loader.aim_of(shapes) or self._aim_before(shapes)
        self._is_turned = False
        colours = self._cavity_colours()
        self._frames.tell(lambda stage: stage.show(shapes, colours))
        self._frames.set_can_be_coarse(shapes is not None and shapes.has_stand_in)
        self._painted = ()
        self.paint()
        self.taken.emit()

    def _aim_before(self, shapes: Shapes | None) -> Aim | None:
        """That of the surfaces before, until theirs comes, if only holes differ: no click is lost meanwhile."""
        before = self._aim
        if shapes is None or before is None:
            return None
        (part, _, cavities), (part_before, _, cavities_before) = shapes.key, before.key
        return before if (part, cavities) == (part_before, cavities_before) else None

    def _is_poorer(self, picture: Picture) -> bool:
        """True for a part of which nothing is known for a moment, when what is drawn shows cavities of it."""
        nothing_known = picture.stale and not picture.cavities
        return nothing_known and bool(self._made_of and self._made_of.cavities) and is_same_part(self._made_of, picture)

    def _align(self) -> None:
        """Turn what is drawn as the part is now; another part goes."""
        if self._made_of is None or self._picture is None:
            return
        before, now = self._made_of.part, self._picture.part
        turn = None if before.key == now.key else turn_between(before, now)
        if turn is None and before.key != now.key:
            self._take(None, None)
        elif turn is not None or self._is_turned:
            self._is_turned = turn is not None
            self._frames.tell(lambda stage: stage.turn(turn))
            self.taken.emit()

    def _cavity_colours(self) -> tuple[str, ...]:
        """Of the cavities that are drawn, which need not be those of the picture yet: as many as the shapes have."""
        return tuple(cavity_colours(self._picture if self.has_names else self._made_of, self._colours))

    def _tell_painted(self, colours: tuple[str, ...], drills: tuple[ShownVent, ...], supports: Mesh | None) -> None:
        self._painted = (colours, drills, supports)
        if supports is not self._supports:
            self._supports = supports
            self._frames.tell(lambda stage: stage.set_supports(supports))
        self._frames.tell(lambda stage: stage.set_cavity_colours(colours))
        self._frames.tell(lambda stage: stage.set_drills(drills))

    def _is_cut(self) -> bool:
        """True when the surfaces that are drawn have the accepted vents in them."""
        picture = self._picture
        drilled = picture.drilled if picture is not None else None
        return drilled is not None and self._shapes is not None and self._shapes.key[1] == drilled.key

    def _cut_in_full(self) -> None:
        """After a rest, in the other thread: a cut of a million triangles would make the window stand still."""
        if self._shapes is not None and self._sections:
            self._loader.cut(self._shapes, self._sections)

    @Slot(object)
    def _have(self, shapes: Shapes) -> None:
        self._take(shapes, self._wanted)
        self._align()

    @Slot(object)
    def _have_aim(self, aim: Aim) -> None:
        if self._shapes is not None and aim.key == self._shapes.key:
            self._aim = aim

    @Slot(object)
    def _have_cut(self, cut: Cut) -> None:
        is_it = self._shapes is not None and cut.key == self._shapes.key and cut.sections == self._sections
        if is_it and not self._is_turned:
            self.outlined.emit(cut.cuts)
