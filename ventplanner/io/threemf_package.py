"""The container of a 3MF file: a zip by the Open Packaging Conventions, read with a limit on what it may unfold to."""

from __future__ import annotations

import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from types import TracebackType
from xml.parsers import expat

from ventplanner.errors import FileReadError
from ventplanner.io.content import damaged

MODEL_RELATION = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
RELATIONS = "_rels/.rels"
# A model of 25 million triangles has about 2 GiB of XML; XML of a mesh packs about ten to one, a zip bomb a thousand.
_MOST_BYTES = 2 << 30
_MOST_RATIO, _RATIO_FROM_BYTES = 200, 64 << 20
# All that the zip module raises over bytes that are no sound zip, besides OSError.
_BROKEN_ZIP = (zipfile.BadZipFile, zlib.error, struct.error, EOFError, RuntimeError, ValueError, OverflowError)


def looks_like_3mf(head: bytes, size: int) -> bool:
    """Whether a file starts like a zip."""
    return head[:4] in (b"PK\x03\x04", b"PK\x05\x06")


class Package:
    """An open 3MF container; use it in a `with` block. Raises FileReadError for one that is broken."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._left = _MOST_BYTES
        try:
            self._zip = zipfile.ZipFile(path)
        except _BROKEN_ZIP as error:
            raise damaged(path, f"the 3MF container is broken or cut short ({error})") from error
        # Part names are equal without regard to case (Open Packaging Conventions, ISO/IEC 29500-2).
        self._parts = {info.filename.strip("/").lower(): info for info in self._zip.infolist()}

    def __enter__(self) -> Package:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._zip.close()

    def has(self, name: str) -> bool:
        """Whether there is a part of this name."""
        return name.strip("/").lower() in self._parts

    def read(self, name: str) -> bytes:
        """The content of a part. Raises FileReadError when it is missing, broken, locked or too large."""
        info = self._parts.get(name.strip("/").lower())
        if info is None:
            raise damaged(self.path, f"the 3MF container lacks the part {name}")
        if info.flag_bits & 1:
            raise FileReadError(f"{self.path}: the part {name} is encrypted.", "Export the file without a password.")
        if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise damaged(self.path, f"the part {name} is packed by a method that 3MF does not allow")
        bomb = info.file_size > max(_RATIO_FROM_BYTES, _MOST_RATIO * info.compress_size)
        if bomb or info.file_size > self._left:
            raise FileReadError(
                f"{self.path}: the part {name} would unfold from {info.compress_size} to {info.file_size} bytes.",
                "This is no usual model; export the part as STL.",
            )
        self._left -= info.file_size
        try:
            return self._zip.read(info)
        except _BROKEN_ZIP as error:
            raise damaged(self.path, f"the part {name} of the 3MF container cannot be unpacked ({error})") from error

    def model_part(self) -> str:
        """The name of the part that holds the model: by the relationships of the package."""
        if not self.has(RELATIONS):
            raise damaged(self.path, f"this zip is no 3MF: it has no {RELATIONS}")
        targets: list[str] = []

        def start(name: str, attributes: dict[str, str]) -> None:
            if name.rpartition(" ")[2] == "Relationship" and attributes.get("Type") == MODEL_RELATION:
                targets.append(str(PurePosixPath("/") / attributes.get("Target", "")))

        parser = safe_parser(self.path, RELATIONS)
        parser.StartElementHandler = start
        data = self.read(RELATIONS)
        with xml_errors(self.path, RELATIONS):
            parser.Parse(data, True)
        if not targets:
            raise damaged(self.path, "this zip is no 3MF: no relationship names a 3D model")
        return targets[0]


def safe_parser(path: Path, part: str) -> expat.XMLParserType:
    """An XML parser with "NAMESPACE NAME" element names that refuses a DOCTYPE, and with it every entity of one."""

    def refuse(*_: object) -> None:
        raise damaged(path, f"the part {part} has a DOCTYPE, which 3MF does not allow")

    parser = expat.ParserCreate(namespace_separator=" ")
    parser.StartDoctypeDeclHandler = refuse
    return parser


@contextmanager
def xml_errors(path: Path, part: str, skipped_lines: Callable[[], int] = lambda: 0) -> Iterator[None]:
    """Turn what the parser raises into FileReadError with the line, to which `skipped_lines` are added."""
    try:
        yield
    except expat.ExpatError as error:
        line, reason = error.lineno + skipped_lines(), expat.ErrorString(error.code)
        raise damaged(path, f"the XML of {part} is malformed in line {line} ({reason})") from error
    except (LookupError, ValueError) as error:  # how the parser refuses an encoding it does not know
        raise damaged(path, f"the XML of {part} is in an encoding that 3MF does not allow ({error})") from error
