"""Makes the pictures of layers in a thread, the latest wish first, and keeps those that were shown lately."""

from __future__ import annotations

from collections import OrderedDict
from typing import TYPE_CHECKING, NamedTuple

from PySide6.QtCore import QObject, Signal

from ventplanner.ui.work.lanes import Lane

if TYPE_CHECKING:
    from ventplanner.analysis.cups import Cups
    from ventplanner.analysis.findings import Findings
    from ventplanner.analysis.places import Places
    from ventplanner.app.layers import Layer, Source
    from ventplanner.printed.engine import AsPrinted
    from ventplanner.progress import Progress

KEPT_BYTES = 64_000_000
"""Pictures of layers that were shown lately are kept up to this."""

CANNOT = "The layer could not be shown"


class Wish(NamedTuple):
    """A layer to be shown. source: of what; with "columns" from `cups`, else from `found`. number: from 0; layer_mm:
    height of a layer."""

    source: Source
    number: int
    layer_mm: float
    findings: Findings
    cups: Cups | None
    found: AsPrinted | None

    @property
    def of(self) -> tuple[int, int, int]:
        """Tells apart what it is a layer of; good as long as these are held."""
        return id(self.findings), id(self.cups), id(self.found)


class Making(QObject):
    """`made` brings each wish with its layer; wishes that were overtaken are not heard of again."""

    made = Signal(object, object)
    failed = Signal(object, str)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._kept: OrderedDict[tuple[str, int, float], Layer] = OrderedDict()
        self._of: Wish | None = None
        self._held = 0
        self._places: tuple[Findings, Places] | None = None
        self._lane = Lane("layer", self)
        self._lane.done.connect(self._have)
        self._lane.failed.connect(lambda _, error: self.failed.emit(error, CANNOT))

    @property
    def is_busy(self) -> bool:
        """Whether a layer is on the way."""
        return self._lane.is_busy

    def ask(self, wish: Wish) -> None:
        """Show this layer next."""
        if self._of is None or self._of.of != wish.of:
            self._kept.clear()
            self._held = 0
        self._of = wish
        key = (wish.source, wish.number, wish.layer_mm)
        if key in self._kept:
            self._kept.move_to_end(key)
            self._lane.stop()
            self.made.emit(wish, self._kept[key])
            return
        self._lane.ask(f"{wish.of} {key}", lambda progress: (wish, self._make(wish, progress)))

    def forget(self) -> None:
        """Nothing is shown any more."""
        self._lane.stop()
        self._kept.clear()
        self._of, self._held, self._places = None, 0, None

    def close(self) -> None:
        """Stop for good."""
        self._lane.close()
        self._kept.clear()

    def _make(self, wish: Wish, _progress: Progress) -> Layer:
        """In the thread."""
        from ventplanner.analysis.places import Places
        from ventplanner.app.layers import layer_as_printed, layer_of_columns

        if self._places is None or self._places[0] is not wish.findings:
            self._places = wish.findings, Places.of(wish.findings)
        places = self._places[1]
        if wish.found is None:
            assert wish.cups is not None
            z = min((wish.number + 0.5) * wish.layer_mm, wish.findings.scene.height)
            return layer_of_columns(wish.findings, wish.cups, z, places)
        printed = wish.source == "printed"
        return layer_as_printed(wish.findings, wish.found, wish.number, printed=printed, places=places)

    def _have(self, _key: str, answer: tuple[Wish, Layer]) -> None:
        wish, layer = answer
        if self._of is None or self._of.of != wish.of:
            return
        self._kept[wish.source, wish.number, wish.layer_mm] = layer
        self._held += layer.nbytes
        while self._held > KEPT_BYTES and len(self._kept) > 1:
            self._held -= self._kept.popitem(last=False)[1].nbytes
        self.made.emit(wish, layer)
