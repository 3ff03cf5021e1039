"""Makes pictures of the window, for the README and for looking at it: three sizes, light and dark.

    xvfb-run -a -s "-screen 0 1600x1000x24" python resources/screens.py [FOLDER]

Each picture shows another moment of the work: a ghost that is selected, everything accepted and the part hanging, a
height of the print, suction, the card of a cavity, the exported file, an orientation that is looked at, the part cut
open along a vent, a layer of the model and as printed, the test piece.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from PySide6.QtWidgets import QApplication

from ventplanner import resources
from ventplanner.profile import Profile
from ventplanner.ui import main
from ventplanner.ui.dialogs.test_piece import TestPieceDialog
from ventplanner.ui.settings import Settings
from ventplanner.ui.theme import Choice
from ventplanner.ui.window import MainWindow

SIZES = ((1600, 1000), (1280, 800), (1000, 700))
LOOKS: tuple[Choice, ...] = ("light", "dark")
PATIENCE_S = 120.0


class Photographer:
    """A window, and a folder for its pictures."""

    def __init__(self, window: MainWindow, folder: Path) -> None:
        self.window = window
        self.session = window.session
        self.folder = folder

    def wait(self, until: Callable[[], bool] = lambda: True) -> None:
        """Let the window work until something is so, and a little longer."""
        end = time.monotonic() + PATIENCE_S
        while not until():
            if time.monotonic() > end:
                raise TimeoutError("the window did not get there")
            _work_for(0.01)
        _work_for(0.6)

    def open(self, name: str) -> None:
        """Open a sample and wait until it is looked at."""
        self.session.close_part()
        self.window.files.open(str(resources.sample(name)))
        self.wait(lambda: self.session.findings is not None and self.settled())

    def settled(self) -> bool:
        """Nothing runs, and the view shows what is known."""
        view = self.window.stage.view
        if self.session.state is None:
            return True
        return self.session.is_settled and self.session.job is None and view is not None and not view.is_busy

    def take(self, name: str) -> None:
        """Pictures of this moment, in all sizes and looks."""
        for look in LOOKS:
            self.window.theme.choose(look)
            for width, height in SIZES:
                self.window.resize(width, height)
                self.wait(self.settled)
                self.window.grab().save(str(self.folder / f"{name}-{width}-{look}.png"))
        self.window.theme.choose("light")


def _work_for(seconds: float) -> None:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        QApplication.processEvents()
        time.sleep(0.005)


def take_all(photographer: Photographer) -> None:
    """The moments, one after the other."""
    p, session = photographer, photographer.session
    p.take("start")
    p.open("lighthouse")
    session.accept(session.proposals[0].id)
    session.accept(session.proposals[0].id)
    session.select(f"proposal {session.proposals[0].id}")
    p.wait(p.settled)
    p.take("review")
    session.accept_all()
    p.wait(p.settled)
    session.select("vent 3")
    p.window.set_hanging(True)
    p.take("hanging")
    p.window.set_hanging(False)
    session.select("cavity A")
    p.window.actions_by_name["chart_suction"].trigger()
    p.wait(lambda: session.is_flow_known)
    p.take("suction")
    p.window.actions_by_name["chart_area"].trigger()
    with tempfile.TemporaryDirectory() as folder:
        session.export(str(Path(folder) / "lighthouse-vented.stl"))
        p.wait(lambda: session.last_export is not None and session.job is None)
        p.take("exported")
    p.open("puffin")
    session.select("cavity A")
    p.window.stage.set_printed(30.0)
    p.take("printed")
    p.window.stage.set_printed(None)
    _orientation(p)
    p.open("whelk")
    session.select(f"proposal {session.proposals[0].id}")
    p.window.actions_by_name["cut_through"].trigger()
    p.take("cut")
    p.window.stage.set_section(False)
    _layers(p)


def _orientation(p: Photographer) -> None:
    """The first of the short list of orientations, looked at."""
    window = p.window
    window.actions_by_name["orient"].trigger()
    p.wait(lambda: p.session.orientations is not None and p.settled())
    window.orienting.take(1)
    p.take("orientation")
    window.orienting.end()


def _layers(p: Photographer) -> None:
    """A layer of the model, then as it prints with strong light, in which vents print closed."""
    window, session = p.window, p.session
    window.bench.use(replace(Profile(), name="Strong light", pixel_mm=0.1, blur_mm=0.5, exposure_ratio=60.0))
    window.stage.set_printed(20.0)
    window.actions_by_name["layers"].trigger()
    p.wait(lambda: window.stage.layers.is_current)
    p.take("layers")
    session.accept_all()
    p.wait(p.settled)
    vent = f"vent {session.plan.vents[0].id}"
    session.set_diameter(vent, 1.2)  # proposals are as wide as this light asks: narrower, it prints closed
    p.wait(p.settled)
    window.actions_by_name["layers_printed"].trigger()
    session.select(vent)
    p.wait(lambda: session.printed is not None and session.way_out(session.plan.vents[0]) is not None)
    p.take("layers-printed")
    window.actions_by_name["test_piece"].trigger()
    dialog = window.findChild(TestPieceDialog)
    assert dialog is not None
    for box, at in zip(dialog.choices.values(), (5, 9, 7), strict=True):
        box.setCurrentIndex(at)
    for look in LOOKS:
        window.theme.choose(look)
        p.wait(dialog.keep.isEnabled)
        dialog.grab().save(str(p.folder / f"test-piece-{look}.png"))
    dialog.reject()


def run(folder: Path) -> None:
    """Make all pictures."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as own:
        os.environ["VENTPLANNER_STATE_DIR"] = own
        settings = Settings()
        settings.set("hint_read", True)
        window = main.make_window(main.application(), settings)
        window.show()
        main.bring_view(window)
        take_all(Photographer(window, folder))
        window.leave_at_once()


if __name__ == "__main__":
    arguments = argparse.ArgumentParser(description="Makes pictures of the window, in three sizes, light and dark.")
    arguments.add_argument("folder", nargs="?", type=Path, default=Path("out") / "screens", help="where they go")
    run(arguments.parse_args().folder)
