"""Write beside, check, then swap: the old file is either replaced whole or stays as it was."""

from __future__ import annotations

import errno
import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from ventplanner.errors import FileWriteError


class Draft:
    """A file that is to take the place of `target`: write to `path`, check it, then `commit`.

    `path` lies in the folder of the target and has its suffix, so it can be read again like the result.
    """

    def __init__(self, target: Path, overwrite: bool) -> None:
        self.target = target
        self.path = target.with_name(f".{target.stem[:60]}-{secrets.token_hex(4)}{target.suffix}")
        self.committed = False
        self._overwrite = overwrite

    def commit(self) -> None:
        """Flush the draft to the disk and put it in the place of the target in one step.

        Raises FileWriteError when a target has appeared in the meantime that may not be overwritten.
        """
        try:
            with self.path.open("r+b") as file:
                os.fsync(file.fileno())
            if self._overwrite:
                self.path.replace(self.target)
            else:
                _rename_new(self.path, self.target)
        except OSError as error:
            raise write_error(self.target, error) from error
        self.committed = True
        _flush_folder(self.target.parent)


@contextmanager
def replacing(path: str | os.PathLike[str], *, overwrite: bool = False) -> Iterator[Draft]:
    """A `Draft` for `path`; whatever is not committed when the block ends, also by an error, is removed.

    A symbolic link is followed: the file it names is replaced, the link stays; the permissions of a replaced file
    are kept. Raises FileWriteError when the target exists without `overwrite`, is a folder, its folder is missing or
    cannot be written to, and for every OSError inside the block (a full disk, for example).
    """
    target = checked_target(Path(path), overwrite)
    draft = Draft(target, overwrite)
    try:
        mode = target.stat().st_mode & 0o777 if target.exists() else None
        draft.path.touch(exist_ok=False)
        if mode is not None:
            draft.path.chmod(mode | 0o600)
        yield draft
    except OSError as error:
        raise write_error(target, error) from error
    finally:
        if not draft.committed:
            draft.path.unlink(missing_ok=True)


def checked_target(path: Path, overwrite: bool) -> Path:
    """The file that writing to `path` would replace; FileWriteError if that is not allowed or not possible."""
    target = Path(os.path.realpath(path))
    if target.is_dir():
        raise FileWriteError(f"{path}: this is a folder.", "Name a file in it.")
    if not target.parent.is_dir():
        raise FileWriteError(f"{path}: the folder {target.parent} does not exist.", "Make it first or choose another.")
    if target.exists() and not overwrite:
        raise FileWriteError(f"{path}: this file exists already.", "Choose another name or allow overwriting.")
    return target


def _rename_new(draft: Path, target: Path) -> None:
    """Rename, but fail if the target exists: a hard link is the portable way; not every file system has it."""
    try:
        os.link(draft, target)
    except FileExistsError:
        raise
    except OSError:
        if target.exists():
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(target)) from None
        draft.replace(target)
    else:
        draft.unlink()


def _flush_folder(folder: Path) -> None:
    """Make the rename itself last through a power cut, where the system lets a folder be synced."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP, errno.EACCES, errno.EBADF):
            raise write_error(folder, error) from error
    finally:
        os.close(handle)


def write_error(target: Path, error: OSError) -> FileWriteError:
    """The error for a file that the system does not let us write; the old file, if any, is intact."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return FileWriteError(f"{target}: the disk is full.", "Free some space or choose another disk.")
    if error.errno == errno.EROFS:
        return FileWriteError(f"{target}: the disk can only be read.", "Choose another folder.")
    if isinstance(error, PermissionError):
        return FileWriteError(f"{target}: no permission to write in {target.parent}.", "Choose another folder.")
    if isinstance(error, FileExistsError):
        return FileWriteError(f"{target}: this file exists already.", "Choose another name or allow overwriting.")
    return FileWriteError(f"{target}: cannot be written ({error.strerror or error}).", "Choose another folder.")
