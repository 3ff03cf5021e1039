"""Small parts for the command line, and a way to run it in this process."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from typing import Any

import bodies
import pytest
import trimesh

from ventplanner.cli import main


@dataclass(frozen=True)
class Run:
    code: int
    out: str
    err: str

    @property
    def json(self) -> dict[str, Any]:
        """The one object on standard output; anything else there, or a number that is not finite, is a failure."""
        value: dict[str, Any] = json.loads(self.out, parse_constant=lambda text: pytest.fail(f"{text} in JSON"))
        return value


Runner = Callable[..., Run]


def run_here(*arguments: object) -> Run:
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        code = main([str(a) for a in arguments])
    return Run(code, out.getvalue(), err.getvalue())


def hollow_box() -> trimesh.Trimesh:
    """20 mm, 2 mm walls, sealed."""
    return trimesh.util.concatenate([bodies.box(20), bodies.inward(bodies.box(16))])


def u_bend() -> trimesh.Trimesh:
    """Two legs, 16 mm high from 3 mm on, that are one cavity from 21 mm on: two cups."""
    legs = (bodies.block([-12, -8, -12], [-4, 8, 12]), bodies.block([4, -8, -12], [12, 8, 12]))
    return bodies.cut(bodies.box([30, 20, 30]), *legs, bodies.block([-12, -8, 6], [12, 8, 12]))


def side_hole() -> trimesh.Trimesh:
    """The hollow box with a hole of 4 mm in its middle height: late."""
    return bodies.cut(bodies.box(20), bodies.box(16), bodies.rod([0, 0, 0], [20, 0, 0], 2))


def plate_hole() -> trimesh.Trimesh:
    """The hollow box with a hole of 3 mm in its lower face, which the plate closes."""
    return bodies.cut(bodies.box(20), bodies.box(16), bodies.rod([0, 0, -13], [0, 0, -7], 1.5))


def open_box() -> trimesh.Trimesh:
    """The hollow box without one of its triangles."""
    mesh = hollow_box()
    mesh.update_faces(range(1, len(mesh.faces)))
    return mesh
