"""Plan files: the work on a part, saved with the part itself, and opened again without the original file.

A plan file (`.ventplan`) is a zip archive of `plan.json`, the part's two arrays, named by the part's digest, and, if
a surface is to be kept clear, one bit for each face; resources/plan-format.md describes it. Members are stored without
compression. So the bytes depend on nothing but the plan, and no small file can unpack to a large one.
"""

from __future__ import annotations

import errno
import zipfile
from pathlib import Path

import numpy as np

from ventplanner.errors import FileReadError, MeshError, ParameterError, ProjectError
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.solid import Solid
from ventplanner.io.atomic import replacing
from ventplanner.io.content import check_room
from ventplanner.io.plan_json import COPY, PartJson, PlanJson, SavedPlan, bodies_of, decode, encode, saved_of, source_of

__all__ = ["SUFFIX", "SavedPlan", "load_plan", "save_plan"]

SUFFIX = ".ventplan"
_JSON = "plan.json"
_LARGEST_JSON = 64_000_000
# The oldest time that a zip archive can hold: when a plan was saved is no part of it.
_NO_TIME = (1980, 1, 1, 0, 0, 0)


def save_plan(path: str | Path, saved: SavedPlan, overwrite: bool = False) -> None:
    """Write a plan file; an existing one is replaced as a whole, and only if `overwrite`.

    The same plan gives the same bytes. Raises ParameterError for another suffix than `.ventplan`, ProjectError for a
    plan that could not be read again, FileWriteError if the file cannot be written.
    """
    path = Path(path)
    if path.suffix.lower() != SUFFIX:
        raise ParameterError(f"A plan cannot be saved as '{path.name}'.", f"Give a name that ends in {SUFFIX}.")
    part = saved.part
    vertices, faces = _member_names(part.digest)
    members = {
        _JSON: encode(saved),
        vertices: part.vertices.astype("<f8", copy=False).tobytes(),
        faces: part.faces.astype("<i4", copy=False).tobytes(),
    }
    if saved.keep_clear:
        members[_marks_name(saved.keep_clear.digest)] = saved.keep_clear.to_bytes()
    with replacing(path, overwrite=overwrite) as draft:
        with zipfile.ZipFile(draft.path, "w") as archive:
            for name, data in members.items():
                info = zipfile.ZipInfo(name, _NO_TIME)
                info.create_system = 3  # the same on every system, as are the permissions
                info.external_attr = 0o100644 << 16
                archive.writestr(info, data, zipfile.ZIP_STORED)
        draft.commit()


def load_plan(path: str | Path) -> SavedPlan:
    """Read a plan file with its part.

    Raises FileReadError if the file cannot be read, ProjectError if it is no plan file, is damaged, was changed, or
    comes from a newer version.
    """
    path = Path(path)
    try:
        check_room(path, 2.0)  # its bytes, and the arrays made of them
        with zipfile.ZipFile(path) as archive:
            document = decode(_member(archive, _JSON))
            return saved_of(document, _part(archive, document.part), _marks(archive, document))
    except ProjectError as error:
        raise ProjectError(f"{path.name}: {error.cause}", error.way_out) from error
    except (zipfile.BadZipFile, EOFError, NotImplementedError, ValueError) as error:
        raise ProjectError(f"{path.name} is no plan file, or is damaged: {error}.", COPY) from error
    except OSError as error:
        if error.errno == errno.EINVAL:  # the archive sends the reader to a place before the file's beginning
            raise ProjectError(f"{path.name} is no plan file, or is damaged.", COPY) from error
        raise FileReadError(f"{path} cannot be read: {error.strerror or error}.", "Check the path.") from error


def _member_names(digest: str) -> tuple[str, str]:
    return f"part/{digest}/vertices.f64", f"part/{digest}/faces.i32"


def _part(archive: zipfile.ZipFile, part: PartJson) -> Solid:
    vertices, faces = _member_names(part.digest)
    try:
        solid = Solid(
            np.frombuffer(_member(archive, vertices, part.vertices * 24), "<f8").reshape(-1, 3),
            np.frombuffer(_member(archive, faces, part.faces * 12), "<i4").reshape(-1, 3),
            bodies_of(part),
            source_of(part),
        )
    except MeshError as error:
        raise ProjectError(f"the part is damaged: {error.cause}", COPY) from error
    if solid.digest != part.digest:
        raise ProjectError("the part is not the one that the plan was made for: its digest differs.", COPY)
    return solid


def _marks_name(digest: str) -> str:
    return f"keep-clear/{digest}/faces.u1"


def _marks(archive: zipfile.ZipFile, document: PlanJson) -> FaceMask | None:
    """The surface to be kept clear, if the plan has one."""
    named = document.keep_clear
    if named is None:
        return None
    faces = document.part.faces
    try:
        mask = FaceMask.from_bytes(faces, _member(archive, _marks_name(named.digest), -(-faces // 8)))
    except MeshError as error:
        raise ProjectError(f"the surface to be kept clear is damaged: {error.cause}", COPY) from error
    if mask.digest != named.digest:
        raise ProjectError("the surface to be kept clear is not the one of the plan: its digest differs.", COPY)
    return mask or None


def _member(archive: zipfile.ZipFile, name: str, size: int | None = None) -> bytes:
    found = [info for info in archive.infolist() if info.filename == name]
    if len(found) != 1:
        raise ProjectError(f"{name} is {'missing' if not found else 'there twice'}.", COPY)
    info = found[0]
    if info.compress_type != zipfile.ZIP_STORED or info.flag_bits & 1 or info.compress_size != info.file_size:
        raise ProjectError(f"{name} is compressed or encrypted.", "Pack the file again without compression.")
    if info.file_size != size if size is not None else info.file_size > _LARGEST_JSON:
        raise ProjectError(f"{name} has {info.file_size} bytes, which cannot be.", COPY)
    return archive.read(info)
