"""The colours of a part's own file, with the surface that bears each, and what keeping them clear does."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from bodies import box, inward, solid
from painted_files import painted

from ventplanner.app.file_colours import MOST, file_colours, keep_coloured, worth_offering
from ventplanner.app.state import AppState
from ventplanner.errors import FileReadError, InputError
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.io.meshes import read, write
from ventplanner.io.project import SavedPlan, load_plan, save_plan

PART = solid(box((20.0, 10.0, 30.0)), inward(box((16.0, 6.0, 26.0))))
LOW = np.abs(PART.vertices[PART.faces][:, :, 2] + 15.0).max(axis=1) < 1e-9


def test_each_colour_is_told_with_its_area_the_largest_first(tmp_path: Path) -> None:
    part = read(painted(tmp_path / "part.ply", PART, LOW))
    white, red = file_colours(part)
    assert (red.name, red.faces, red.is_bright) == ("#c81e1e", FaceMask.of(LOW), True)
    assert red.area == pytest.approx(20.0 * 10.0)
    whole = 2 * (200 + 600 + 300) + 2 * (16 * 6 + 16 * 26 + 6 * 26)  # both boxes' faces
    assert (white.name, white.is_bright, white.area) == ("#ffffff", False, pytest.approx(whole - 200.0))
    assert worth_offering((white, red))
    assert not worth_offering((white,))
    assert not worth_offering((white, red) * MOST)  # a photograph


def test_colours_that_rounding_splits_are_one(tmp_path: Path) -> None:
    path = painted(tmp_path / "part.ply", PART, LOW)
    first = path.read_text().index("200 30 30")
    path.write_text(path.read_text()[:first] + "199 31 30" + path.read_text()[first + 9 :])
    assert [one.faces.count for one in file_colours(read(path))] == [22, 2]


def test_a_part_without_colours_has_none_and_one_that_changed_is_refused(tmp_path: Path) -> None:
    write(PART, tmp_path / "part.stl")
    assert file_colours(read(tmp_path / "part.stl")) == ()
    write(PART, tmp_path / "grey.ply")
    assert file_colours(read(tmp_path / "grey.ply")) == ()
    part = read(painted(tmp_path / "part.ply", PART, LOW))
    save_plan(tmp_path / "a.ventplan", SavedPlan(part))
    assert file_colours(load_plan(tmp_path / "a.ventplan").part) == ()
    painted(tmp_path / "part.ply", PART.with_mesh(PART.vertices, PART.faces[:-1]), LOW[:-1])
    with pytest.raises(FileReadError, match="23 triangles now, the part 24"):
        file_colours(part)


def test_what_is_coloured_is_kept_clear_besides_what_is_marked(tmp_path: Path) -> None:
    part = read(painted(tmp_path / "part.ply", PART, LOW))
    white, red = file_colours(part)
    state = AppState(part, keep_clear=FaceMask.at(24, [int(np.flatnonzero(~LOW)[0])]))
    edit = keep_coloured(state, (red,))
    assert edit.name == "Keep clear what is #c81e1e"
    assert edit.state.keep_clear is not None
    assert edit.state.keep_clear.count == 3
    both = keep_coloured(state, (white, red))
    assert both.name == "Keep 2 colours clear"
    assert both.state.keep_clear is not None
    assert both.state.keep_clear.count == 24
    with pytest.raises(InputError, match="another part"):
        keep_coloured(AppState(solid(box(3.0))), (red,))
