"""The surface to be kept clear, from a file: a colour of the part, a painted copy of it, or a plan."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from bodies import box, inward, solid
from painted_files import painted

from ventplanner.app.marks_from_file import marks_from
from ventplanner.errors import FileReadError, ProjectError
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.io.meshes import read
from ventplanner.io.project import SavedPlan, save_plan

PART = solid(box((20.0, 20.0, 20.0)), inward(box((16.0, 16.0, 16.0))))
LOW = np.abs(PART.vertices[PART.faces][:, :, 2] + 10.0).max(axis=1) < 1e-9


def test_a_colour_marks_its_faces_in_the_parts_own_file(tmp_path: Path) -> None:
    part = read(painted(tmp_path / "part.ply", PART, LOW))
    assert marks_from("#c81e1e", part) == FaceMask.of(LOW)
    with pytest.raises(FileReadError, match="no triangle has this colour") as caught:
        marks_from("#00ff00", part)
    assert "#c81e1e (2 triangles)" in caught.value.way_out


def test_a_painted_copy_marks_the_same_faces_in_whatever_order(tmp_path: Path) -> None:
    assert marks_from(str(painted(tmp_path / "same.ply", PART, LOW)), PART) == FaceMask.of(LOW)
    order = np.random.default_rng(3).permutation(len(PART.faces))
    turned = np.roll(PART.faces[order], 1, axis=1)
    moved = PART.with_mesh(PART.vertices + 2e-5, turned)
    assert marks_from(str(painted(tmp_path / "other.ply", moved, LOW[order])), PART) == FaceMask.of(LOW)


def test_a_copy_that_is_another_part_is_refused_with_the_place(tmp_path: Path) -> None:
    shifted = PART.with_mesh(PART.vertices + np.array([0.5, 0.0, 0.0]), PART.faces)
    with pytest.raises(FileReadError, match=r"triangles of the part are not in it, one at \(") as caught:
        marks_from(str(painted(tmp_path / "moved.ply", shifted, LOW)), PART)
    assert "same triangles" in caught.value.way_out
    fewer = PART.with_mesh(PART.vertices, PART.faces[:-1])
    with pytest.raises(FileReadError, match="it has 23 triangles, and the part has 24"):
        marks_from(str(painted(tmp_path / "fewer.ply", fewer, LOW[:-1])), PART)


def test_a_copy_in_which_nothing_is_painted_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FileReadError, match="nothing is painted"):
        marks_from(str(painted(tmp_path / "grey.ply", PART, LOW, "90 90 91")), PART)


def test_a_plan_gives_what_is_marked_in_it(tmp_path: Path) -> None:
    save_plan(tmp_path / "a.ventplan", SavedPlan(PART, keep_clear=FaceMask.of(LOW)))
    assert marks_from(str(tmp_path / "a.ventplan"), PART) == FaceMask.of(LOW)
    save_plan(tmp_path / "b.ventplan", SavedPlan(PART))
    with pytest.raises(ProjectError, match="no surface is marked"):
        marks_from(str(tmp_path / "b.ventplan"), PART)


def test_a_part_without_colours_is_refused() -> None:
    with pytest.raises(FileReadError, match="STL holds none"):
        marks_from("#ff0000", read("samples/puffin.stl"))
    with pytest.raises(FileReadError, match="not known"):
        marks_from("#ff0000", PART)
