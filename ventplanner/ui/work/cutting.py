"""The part with the accepted vents cut into it, for the picture: cut by a worker when the plan has come to rest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal

from ventplanner.app.results import Results
from ventplanner.app.state import AppState, drilled_key
from ventplanner.geometry.solid import FloatArray, IntArray
from ventplanner.ui.picture import Mesh
from ventplanner.ui.work.memory import Arrays
from ventplanner.ui.work.messages import DRILLING, DrillOrder, Part
from ventplanner.ui.work.pool import Pool

if TYPE_CHECKING:
    from ventplanner.analysis.findings import Findings

REST_MS = 250
"""The part is cut when the plan has been left alone for so long."""

Drills = frozenset[tuple[float | str, ...]]


@dataclass(frozen=True, eq=False)
class Cut:
    """The drilled part along the file's axes: turning the part costs no cut."""

    vertices: FloatArray
    faces: IntArray


class Cutting(QObject):
    """`mesh` is the part with the vents of the state followed, or with some of them until the cut is done."""

    changed = Signal()
    failed = Signal(object, str)

    def __init__(self, results: Results, pool: Pool, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.mesh: Mesh | None = None
        self._holes: Drills = frozenset()
        self._wanted: tuple[AppState, Findings] | None = None
        self._results, self._pool = results, pool
        self._refused: set[str] = set()
        self._cut_key = ""
        self._rest = QTimer(self, singleShot=True, interval=REST_MS)
        self._rest.timeout.connect(self._begin)
        pool.done.connect(self._came)
        pool.failed.connect(self._failed)

    def follow(self, state: AppState, findings: Findings, *, passing: bool = False) -> None:
        """This is to be shown now. passing: it is a step of a drag; nothing is cut until `rest`."""
        turned = self._wanted is None or self._wanted[1].scene.frame is not findings.scene.frame
        self._wanted = state, findings
        holes: Drills = frozenset(v.cut for v in state.plan.drills)
        found: Cut | None = self._results.get(_key(state, findings)) if holes and not passing else None
        if found is not None:
            self._show(self._posed(found, state, findings), holes)
        elif turned or not holes or not self._holes <= holes:
            # What shows a hole that is not wished for is shown no longer; one too few is drawn as a drill meanwhile.
            self._show(None, frozenset())
        if passing:
            self._rest.stop()
        elif found is None and holes:
            self._rest.start()

    def rest(self) -> None:
        """The drag is over."""
        if self._wanted is not None:
            self.follow(*self._wanted)

    def leave(self) -> None:
        """Nothing is to be shown."""
        self._rest.stop()
        self._wanted, self.mesh, self._holes = None, None, frozenset()
        self.retry()
        self._pool.cancel(DRILLING)

    def cancel(self) -> None:
        """Do not cut what is being cut, until `retry`: vents go on being drawn as drills."""
        self._rest.stop()
        if self._pool.is_busy(DRILLING):
            self._refused.add(self._cut_key)
            self._pool.cancel(DRILLING)

    def retry(self) -> None:
        """What failed may be tried again."""
        self._refused.clear()

    def _show(self, mesh: Mesh | None, holes: Drills) -> None:
        self._holes = holes
        if mesh is not self.mesh:
            self.mesh = mesh
            self.changed.emit()

    def _posed(self, cut: Cut, state: AppState, findings: Findings) -> Mesh:
        key = f"{_key(state, findings)} {findings.pose.to_plate}"
        mesh: Mesh | None = self._results.get(key)
        if mesh is None:
            mesh = Mesh(key, findings.scene.frame.to_build(cut.vertices), cut.faces)
            self._results.put(key, mesh)
        return mesh

    def _begin(self) -> None:
        """Have the part cut, unless it is being cut: then the latest wish is met after that."""
        if self._wanted is None or self._pool.is_busy(DRILLING):
            return
        state, findings = self._wanted
        key, plan = _key(state, findings), state.plan
        if not plan.drills or key in self._results or key in self._refused:
            return

        def order(part: Part) -> DrillOrder:
            return DrillOrder(part, plan)

        self._cut_key = key
        self._pool.submit(DRILLING, key, findings.part, order)

    def _came(self, name: str, key: str, arrays: Arrays) -> None:
        if name != DRILLING or self._wanted is None:
            return
        self._results.put(key, Cut(arrays["vertices"], arrays["faces"]))
        self.follow(*self._wanted)

    def _failed(self, name: str, key: str, error: object) -> None:
        # The picture goes on showing the part as it came; an export would say the same.
        if name == DRILLING:
            self._refused.add(key)
            self.failed.emit(error, "The vents could not be cut into the picture")


def _key(state: AppState, findings: Findings) -> str:
    # Another reading of nested skins is another part.
    return f"{drilled_key(state)} {findings.part.digest}"
