"""Makes resources/picture.png, the picture of the README, from the samples.

    python resources/picture.py            (needs pyvista beside the program's own packages)

Three ornaments as the analysis sees them: translucent skin, cavities in contrasting colours, proposed vents in black.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pyvista as pv

from ventplanner.analysis.findings import analyse
from ventplanner.io.meshes import read
from ventplanner.plan.drilling import tool_mesh
from ventplanner.plan.placement import propose

ROOT = Path(__file__).parents[1]
# Okabe & Ito 2008, "Color universal design".
COLOURS = ("#0072B2", "#E69F00", "#009E73", "#CC79A7", "#56B4E9", "#D55E00")
SHOWN = (("lighthouse.stl", 20.0), ("puffin.stl", -55.0), ("seal-pup.stl", -60.0))
"""Samples from left to right, each turned by this many degrees about the upright."""
SPACE_MM = 22.0


def mesh(vertices: np.ndarray, faces: np.ndarray) -> pv.PolyData:
    """Triangles as a pyvista mesh."""
    return pv.PolyData(vertices, np.hstack((np.full((len(faces), 1), 3), faces)))


def add_part(view: pv.Plotter, file: Path, turn: float, left: float) -> float:
    """Draw one part with its left side at x = left; returns the x of its right side."""
    solid = read(file)
    findings = analyse(solid)
    plan = propose(findings)
    angle = np.radians(turn)
    turned = np.array([[np.cos(angle), np.sin(angle), 0], [-np.sin(angle), np.cos(angle), 0], [0, 0, 1.0]])
    corner = (solid.vertices @ turned).min(axis=0)
    width = float(np.ptp(solid.vertices @ turned, axis=0)[0])

    def place(points: np.ndarray) -> np.ndarray:
        return points @ turned - corner + (left, 0.0, 0.0)

    inside = np.zeros(len(solid.faces), dtype=bool)
    for k, cavity in enumerate(findings.cavities):
        faces = findings.surface(cavity.id)
        inside[faces] = True
        colour = COLOURS[k % len(COLOURS)]
        view.add_mesh(mesh(place(solid.vertices), solid.faces[faces]), color=colour, smooth_shading=True, ambient=0.15)
    skin = mesh(place(solid.vertices), solid.faces[~inside])
    view.add_mesh(skin, color="#d9d4cb", opacity=0.28, smooth_shading=True, specular=0.15)
    for vent in plan.vents:
        vertices, faces = tool_mesh(vent)
        view.add_mesh(mesh(place(vertices), faces), color="#16191d")
    return left + width


def main(out: Path) -> None:
    """Render the picture."""
    view = pv.Plotter(off_screen=True, window_size=(1800, 900), lighting="light kit")
    view.set_background("#f6f4ef")
    right = 0.0
    for name, turn in SHOWN:
        right = add_part(view, ROOT / "samples" / name, turn, right) + SPACE_MM
    width = right - SPACE_MM
    plate = pv.Plane(center=(0.5 * width, 40, -0.2), direction=(0, 0, 1), i_size=width + 80, j_size=220)
    view.add_mesh(plate, color="#e7e2d8", ambient=0.4)
    view.enable_parallel_projection()
    view.enable_anti_aliasing("ssaa")
    view.camera_position = [(0.5 * width, -400.0, 110.0), (0.5 * width, 0.0, 46.0), (0, 0, 1)]
    view.camera.parallel_scale = 66.0
    view.screenshot(out)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "resources" / "picture.png")
