"""`FaceMask`: which faces of a `Solid` are marked, one bit a face."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ventplanner.errors import MeshError
from ventplanner.geometry.solid import IntArray, Solid

Bits = NDArray[np.uint8]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class FaceMask:
    """A set of the faces of a solid with `faces` faces. Immutable; equal when the marked faces are the same.

    bits: (ceil(faces / 8),) uint8, read-only: face k is bit k % 8 of byte k // 8, lowest bit first; bits behind the
    last face are 0. A million faces take 125 kB. Raises MeshError for another number of bytes or bits that name no
    face.
    """

    faces: int
    bits: Bits

    def __post_init__(self) -> None:
        bits = np.ascontiguousarray(self.bits, dtype=np.uint8)
        if self.faces < 0 or bits.shape != (-(-self.faces // 8),):
            raise MeshError(f"Marks of {8 * bits.size} bits do not belong to a part with {self.faces} faces.")
        if self.faces % 8 and bits[-1] >> self.faces % 8:
            raise MeshError("The marks name faces that do not exist.", "They belong to another part.")
        if bits is self.bits and bits.flags.writeable:
            bits = bits.copy()
        bits.flags.writeable = False
        object.__setattr__(self, "bits", bits)

    @classmethod
    def none_of(cls, faces: int) -> FaceMask:
        """No face of `faces`."""
        return cls(faces, np.zeros(-(-faces // 8), np.uint8))

    @classmethod
    def of(cls, marked: ArrayLike) -> FaceMask:
        """From flags, (faces,) bool: True for a marked face."""
        flags = np.asarray(marked, dtype=np.bool_)
        return cls(len(flags), np.packbits(flags, bitorder="little"))

    @classmethod
    def at(cls, faces: int, chosen: ArrayLike) -> FaceMask:
        """The chosen faces, (k,) whole numbers in any order, of `faces`. Raises MeshError for a number of no face."""
        index = np.asarray(chosen, dtype=np.int64).reshape(-1)
        if len(index) and not (int(index.min()) >= 0 and int(index.max()) < faces):
            raise MeshError("The marks name faces that do not exist.", "They belong to another part.")
        flags = np.zeros(faces, np.bool_)
        flags[index] = True
        return cls.of(flags)

    @classmethod
    def from_bytes(cls, faces: int, content: bytes) -> FaceMask:
        """What `to_bytes` gave. Raises MeshError if it does not belong to `faces` faces."""
        return cls(faces, np.frombuffer(content, np.uint8))

    def to_bytes(self) -> bytes:
        """The bits as they are, ceil(faces / 8) bytes."""
        return self.bits.tobytes()

    @cached_property
    def flags(self) -> BoolArray:
        """(faces,) bool, read-only: True for a marked face."""
        flags = np.unpackbits(self.bits, count=self.faces, bitorder="little").view(np.bool_)
        flags.flags.writeable = False
        return flags

    @property
    def chosen(self) -> IntArray:
        """(k,) int32: the marked faces, ascending."""
        return np.flatnonzero(self.flags).astype(np.int32)

    @cached_property
    def count(self) -> int:
        """How many faces are marked."""
        return int(np.count_nonzero(self.flags))

    @cached_property
    def digest(self) -> str:
        """Content hash (BLAKE2b, 32 hex digits) of the number of faces and the bits."""
        h = hashlib.blake2b(self.faces.to_bytes(8, "little"), digest_size=16)
        h.update(self.bits.data)
        return h.hexdigest()

    def __bool__(self) -> bool:
        return self.count > 0

    def __eq__(self, other: object) -> bool:
        return isinstance(other, FaceMask) and self.digest == other.digest

    def __hash__(self) -> int:
        return hash(self.digest)

    def __or__(self, other: FaceMask) -> FaceMask:
        """Faces in either. Raises MeshError for marks of another number of faces; so do `-` and `&`."""
        return FaceMask(self.faces, self.bits | self._of_same(other))

    def __and__(self, other: FaceMask) -> FaceMask:
        """Faces in both."""
        return FaceMask(self.faces, self.bits & self._of_same(other))

    def __sub__(self, other: FaceMask) -> FaceMask:
        """Faces that the other does not have."""
        return FaceMask(self.faces, self.bits & ~self._of_same(other))

    def __invert__(self) -> FaceMask:
        """All other faces."""
        return FaceMask.of(~self.flags)

    def area(self, solid: Solid) -> float:
        """Area of the marked faces in mm2. Raises MeshError if the solid has another number of faces."""
        if len(solid.faces) != self.faces:
            raise MeshError(f"Marks of {self.faces} faces do not belong to a part with {len(solid.faces)} faces.")
        a, b, c = np.moveaxis(solid.vertices[solid.faces[self.chosen]], 1, 0)
        return float(0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1).sum())

    def _of_same(self, other: FaceMask) -> Bits:
        if other.faces != self.faces:
            raise MeshError(f"Marks of {other.faces} faces do not belong to a part with {self.faces} faces.")
        return other.bits
