"""The worker process: no Qt here. It waits for orders, carries them out, and ends with the window."""

from __future__ import annotations

import os
import pickle
import signal
import threading
from dataclasses import replace
from importlib import import_module
from multiprocessing import parent_process
from multiprocessing.connection import Connection, wait
from types import FrameType
from typing import NoReturn

import numpy as np

from ventplanner.app.warming import warm
from ventplanner.errors import Cancelled, InputError, NotVerifiedError
from ventplanner.geometry.solid import Solid
from ventplanner.progress import Progress
from ventplanner.ui.work import memory
from ventplanner.ui.work.carried import Carried
from ventplanner.ui.work.messages import (
    CloseOrder,
    Done,
    DrillOrder,
    Exported,
    ExportOrder,
    Failed,
    HollowOrder,
    MendOrder,
    Order,
    Part,
    Ready,
    Room,
    Stop,
    Told,
)

ALSO = ("ventplanner.app.exporting", "manifold3d")
GRACE_S = 3.0
NICENESS = 5
"""What the user does in the window comes first."""


def main(pipe: Connection) -> None:
    """Serve orders from the pipe until the window closes it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C goes to both processes; the window decides
    signal.signal(signal.SIGTERM, _stop)
    if os.name == "posix":
        os.nice(NICENESS)
    threading.Thread(target=_end_with_window, name="watch the window", daemon=True).start()
    try:
        warm(lambda phase, share: pipe.send(Told(phase, share)))
        for name in ALSO:
            import_module(name)
        pipe.send(Ready())
        while True:
            order = pipe.recv()
            if not isinstance(order, Stop):
                pipe.send(_answer(order, pipe))
    except (EOFError, BrokenPipeError, ConnectionResetError, KeyboardInterrupt):
        return  # the window has closed the pipe, or wants this process to end


def _stop(_number: int, _frame: FrameType | None) -> NoReturn:
    # Unfinished files are removed on the way out.
    raise KeyboardInterrupt


def _end_with_window() -> None:
    """End when the window is gone, also if it was killed: the pipe alone would not tell while work goes on."""
    parent = parent_process()
    if parent is None:
        return
    wait([parent.sentinel])
    if os.name == "posix":
        os.kill(os.getpid(), signal.SIGTERM)
        threading.Event().wait(GRACE_S)
    os._exit(1)


def _answer(order: Order, pipe: Connection) -> Done | Failed:
    def progress(phase: str, share: float) -> None:
        while pipe.poll():
            if isinstance(pipe.recv(), Stop):
                raise Cancelled
        pipe.send(Told(phase, share))

    result: Exported | None = None
    with Carried() as carried:
        if isinstance(order, ExportOrder):
            result = _export(order, progress)
        elif isinstance(order, CloseOrder):
            _close(order, pipe, progress)
        elif isinstance(order, HollowOrder):
            _hollow(order, pipe, progress)
        elif isinstance(order, MendOrder):
            _mend(order, pipe, progress)
        else:
            _drill(order, pipe, progress)
    return Done(result) if carried.error is None else Failed.of(carried.error)


def _solid(part: Part) -> Solid:
    mesh = memory.read(part.mesh)
    return Solid(mesh["vertices"], mesh["faces"], part.bodies, part.source)


def _export(order: ExportOrder, progress: Progress) -> Exported:
    """The same export as on the command line, after the same analysis."""
    from ventplanner.analysis.findings import analyse
    from ventplanner.app.exporting import export
    from ventplanner.io.report import assumptions

    findings = analyse(_solid(order.part), order.pose, order.options, progress=progress)
    try:
        done = export(findings, order.plan, order.path, overwrite=order.overwrite, progress=progress)
    except NotVerifiedError as error:
        return Exported(order.path, error.differences, len(order.plan.vents))
    return Exported(
        str(done.path),
        (),
        len(order.plan.vents),
        len(done.reread.faces),
        done.drilled.removed_mm3,
        done.after.left,
        assumptions(findings),
        tuple((note.what, note.count, note.at_mm) for note in findings.health),
    )


def _drill(order: DrillOrder, pipe: Connection, progress: Progress) -> None:
    from ventplanner.plan.drilling import drill

    solid = drill(_solid(order.part), order.plan, progress).solid
    _hand_over({"vertices": solid.vertices, "faces": solid.faces}, pipe)


def _close(order: CloseOrder, pipe: Connection, progress: Progress) -> None:
    from ventplanner.analysis.findings import analyse
    from ventplanner.app.from_openings import moved_beside
    from ventplanner.plan.closing import closed

    findings = analyse(_solid(order.part), order.pose, order.options, progress=progress)
    progress("Closing", 0.0)
    vent = np.zeros(0, dtype=np.uint8)
    if order.instead is None:
        found = closed(findings, order.opening, order.plan)
        if isinstance(found, str):
            raise InputError(f"It is not closed: {found}.", "Nothing was changed.")
    else:
        name, point, normal = order.instead
        both = moved_beside(findings, order.opening, order.plan, name, (point, normal), order.keep_clear)
        if isinstance(both, str):
            raise InputError(f"It is not moved: {both}.", "Nothing was changed. Choose a place further from it.")
        found, vent = both[0], np.frombuffer(pickle.dumps(both[1]), dtype=np.uint8)
    _hand_over(
        {
            **_mesh_of(found.solid),
            "place": np.array([*found.at_mm, found.width_mm]),
            "late": np.array(list(found.late.encode("utf-8")), dtype=np.uint8),
            "vent": vent,
        },
        pipe,
    )


def _hollow(order: HollowOrder, pipe: Connection, progress: Progress) -> None:
    import msgspec

    from ventplanner.app.hollow_edit import HollowFacts
    from ventplanner.app.hollowing import ready
    from ventplanner.hollowing.hollow import hollow

    part, kept, notes = ready(_solid(order.part), order.keep_solid, progress)
    done = hollow(part, order.pose, order.rules, keep_solid=kept, progress=progress)
    facts = HollowFacts.of(replace(done, notes=(*notes, *done.notes)))
    _hand_over({**_mesh_of(done.solid), "facts": np.frombuffer(msgspec.json.encode(facts), dtype=np.uint8)}, pipe)


def _mend(order: MendOrder, pipe: Connection, progress: Progress) -> None:
    import msgspec

    from ventplanner.app.mend_edit import MendFacts
    from ventplanner.app.mending import settled
    from ventplanner.mending.mend import mend

    done = settled(mend(_solid(order.part), order.rules, progress=progress), progress)
    facts = np.frombuffer(msgspec.json.encode(MendFacts.of(done)), dtype=np.uint8)
    _hand_over({**_mesh_of(done.solid), "facts": facts}, pipe)


def _mesh_of(solid: Solid) -> memory.Arrays:
    return {
        "vertices": solid.vertices,
        "faces": solid.faces,
        "bodies": np.array([(body.start, body.stop) for body in solid.bodies]),
    }


def _hand_over(arrays: memory.Arrays, pipe: Connection) -> None:
    pipe.send(Room(memory.layout_of(arrays)))
    answer = pipe.recv()
    if isinstance(answer, Stop):
        raise Cancelled
    memory.write(answer, arrays)
