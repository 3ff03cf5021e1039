"""Marked faces: sets of faces, one bit a face."""

from __future__ import annotations

import numpy as np
import pytest
from bodies import box, solid
from hypothesis import given
from hypothesis import strategies as st

from ventplanner.errors import MeshError
from ventplanner.geometry.face_mask import FaceMask

MANY = 41
SETS = st.sets(st.integers(0, MANY - 1))


@given(one=SETS, other=SETS)
def test_marks_behave_like_sets(one: set[int], other: set[int]) -> None:
    a, b = FaceMask.at(MANY, sorted(one)), FaceMask.at(MANY, sorted(other))
    assert set((a | b).chosen.tolist()) == one | other
    assert set((a & b).chosen.tolist()) == one & other
    assert set((a - b).chosen.tolist()) == one - other
    assert set((~a).chosen.tolist()) == set(range(MANY)) - one
    assert a.count == len(one)
    assert bool(a) == bool(one)
    assert (a == b) == (one == other) == (a.digest == b.digest)
    assert FaceMask.from_bytes(MANY, a.to_bytes()) == a == FaceMask.of(a.flags)


@given(faces=st.integers(0, 70))
def test_bytes_are_one_bit_a_face(faces: int) -> None:
    everything = ~FaceMask.none_of(faces)
    assert everything.count == faces
    assert len(everything.to_bytes()) == (faces + 7) // 8
    assert FaceMask.none_of(faces).count == 0


def test_area_is_that_of_the_marked_faces() -> None:
    part = solid(box((2, 3, 4)))
    assert (~FaceMask.none_of(12)).area(part) == pytest.approx(2 * (6 + 8 + 12))
    assert FaceMask.none_of(12).area(part) == 0.0
    normals = np.cross(*(part.vertices[part.faces[:, k]] - part.vertices[part.faces[:, 0]] for k in (1, 2)))
    assert FaceMask.of(normals[:, 2] > 0).area(part) == pytest.approx(6.0)


def test_marks_cannot_be_changed() -> None:
    given_bits = np.array([1], np.uint8)
    mask = FaceMask(8, given_bits)
    given_bits[0] = 0
    assert mask.chosen.tolist() == [0]
    with pytest.raises(ValueError, match="read-only"):
        mask.bits[0] = 3
    with pytest.raises(ValueError, match="read-only"):
        mask.flags[0] = False


def test_marks_of_another_part_are_refused() -> None:
    with pytest.raises(MeshError, match="do not exist"):
        FaceMask(3, np.array([8], np.uint8))
    with pytest.raises(MeshError, match="do not exist"):
        FaceMask.at(3, [3])
    with pytest.raises(MeshError, match="do not belong"):
        FaceMask.from_bytes(12, b"\0")
    with pytest.raises(MeshError, match="do not belong"):
        FaceMask.none_of(3) | FaceMask.none_of(4)
    with pytest.raises(MeshError, match="do not belong"):
        FaceMask.none_of(3).area(solid(box(1)))
