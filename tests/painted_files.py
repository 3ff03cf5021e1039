"""Parts as coloured files."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ventplanner.geometry.solid import Solid


def painted(path: Path, part: Solid, marked: np.ndarray, colour: str = "200 30 30") -> Path:
    """A PLY of a part, the marked faces in a colour and all others white."""
    head = f"ply\nformat ascii 1.0\nelement vertex {len(part.vertices)}\n"
    head += "".join(f"property double {axis}\n" for axis in "xyz")
    head += f"element face {len(part.faces)}\nproperty list uchar int vertex_indices\n"
    head += "".join(f"property uchar {c}\n" for c in ("red", "green", "blue")) + "end_header\n"
    rows = [" ".join(map(repr, point)) for point in part.vertices.tolist()]
    looks = [colour if on else "255 255 255" for on in marked.tolist()]
    rows += [f"3 {a} {b} {c} {look}" for (a, b, c), look in zip(part.faces.tolist(), looks, strict=True)]
    path.write_text(head + "\n".join(rows) + "\n")
    return path
