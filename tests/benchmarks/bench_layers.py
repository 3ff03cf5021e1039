"""How quick the layer view is at the printer's own pixels: run it on a screen, real or virtual.

    xvfb-run -a -s "-screen 0 1600x1300x24" python tests/benchmarks/bench_layers.py [PART]

Printed are medians, 95th percentiles and the largest of: one painting of a sheet of 1200 x 1200 px (moved, enlarged, or
with another layer), the time from asking for a layer to its painting, and how long the event loop leaves an event
waiting while layers are gone through as fast as they come. PART: a file; else the sample lighthouse.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

from PySide6.QtWidgets import QApplication

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parent))

from bench_view import Loop, said, until

import ventplanner
from ventplanner import resources
from ventplanner.printed.engine import as_printed
from ventplanner.profile import Profile
from ventplanner.ui.layer.making import Making, Wish
from ventplanner.ui.layer.plane import Plane
from ventplanner.ui.layer.sheet import LayerSheet
from ventplanner.ui.view.colours import LIGHT

SIDE_PX, ROUNDS = 1200, 60


def paintings(sheet: LayerSheet, step: Callable[[int], None]) -> list[float]:
    """ms of each painting after a step."""
    found = []
    for k in range(ROUNDS):
        step(k)
        begin = time.perf_counter()
        sheet.repaint()
        found.append(1e3 * (time.perf_counter() - begin))
    return found


def run(path: str) -> None:
    """Make a part as printed, then look at its layers."""
    _ = QApplication(sys.argv[:1])
    findings = ventplanner.analyse(ventplanner.read(path))
    begin = time.perf_counter()
    result = as_printed(findings, (), Profile())
    _ = result.printing.opens, result.model.opens
    grid = result.grid
    print(
        f"{path}: {grid.nx} x {grid.ny} pixels, {result.layers} layers, {time.perf_counter() - begin:.1f} s as printed"
    )
    sheet, making = LayerSheet(), Making()
    sheet.setFixedSize(SIDE_PX, SIDE_PX)
    sheet.set_colours(LIGHT)
    sheet.show()
    layers: list[object] = []
    making.made.connect(lambda _, layer: (layers.append(layer), sheet.show_layer(layer)))

    def ask(number: int) -> None:
        making.ask(Wish("printed", number, Profile().layer_height_mm, findings, None, result))

    ask(result.layers // 3)
    until(lambda: bool(layers))
    x, y = grid.x0 + 0.5 * grid.nx * grid.pitch, grid.y0 + 0.5 * grid.ny * grid.pitch
    whole = Plane(x, y, max(grid.nx, grid.ny) * grid.pitch / SIDE_PX, SIDE_PX, SIDE_PX)
    sheet.look(whole)
    sheet.repaint()
    said("painting, moved", paintings(sheet, lambda k: sheet.look(whole.panned(k, k))))
    said("painting, enlarged", paintings(sheet, lambda k: sheet.look(whole.zoomed(1.05**k))))
    sheet.look(whole)
    asked: list[float] = []
    with Loop().measured("layers gone through"):
        for k in range(ROUNDS):
            begin, count = time.perf_counter(), len(layers)
            ask((k * 17) % result.layers)
            until(lambda count=count: len(layers) > count)  # type: ignore[misc]
            sheet.repaint()
            asked.append(1e3 * (time.perf_counter() - begin))
    said("a layer, from the wish to the painting", asked)
    making.close()


if __name__ == "__main__":
    run(sys.argv[1] if len(sys.argv) > 1 else str(resources.sample("lighthouse")))
