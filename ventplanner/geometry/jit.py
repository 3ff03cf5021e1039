"""The one place that imports numba: how kernels are compiled and where the result is kept.

Each kernel has explicit signatures, so it is compiled, or read from the cache, when its module is imported, and never
in the middle of work. A kernel may use constants and functions of kernel modules only: `compile_cache` tells by
their sources when a compiled kernel is out of date.

Signatures are built from the names below, such as `VOID(IN_F8_2, IN_I4_2, OUT_I8_1)`: IN arrays may be read-only,
OUT arrays are written; the number is the number of dimensions; all are C-contiguous.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FunctionType
from typing import Any, TypeVar

import numba
from numba import types

from ventplanner import compile_cache

_config: Any = numba.config
F = TypeVar("F", bound=Callable[..., Any])


def _array(dtype: Any, dimensions: int, readonly: bool) -> Any:
    return types.Array(dtype, dimensions, "C", readonly=readonly)


VOID = types.void
F8, F4, I8, I4, U1, B1 = types.float64, types.float32, types.int64, types.int32, types.uint8, types.boolean
F8_TRIPLE: Any = types.UniTuple(F8, 3)  # type: ignore[no-untyped-call]
IN_F8_1, IN_F8_2, IN_F8_3 = (_array(F8, n, True) for n in (1, 2, 3))
IN_F4_1, IN_F4_2, IN_F4_3 = (_array(F4, n, True) for n in (1, 2, 3))
IN_I8_1, IN_I8_2, IN_I8_3 = (_array(I8, n, True) for n in (1, 2, 3))
IN_I4_1, IN_I4_2, IN_I4_3 = (_array(I4, n, True) for n in (1, 2, 3))
IN_U1_1, IN_U1_2, IN_U1_3 = (_array(U1, n, True) for n in (1, 2, 3))
OUT_F8_1, OUT_F8_2, OUT_F8_3 = (_array(F8, n, False) for n in (1, 2, 3))
OUT_F4_1, OUT_F4_2, OUT_F4_3 = (_array(F4, n, False) for n in (1, 2, 3))
OUT_I8_1, OUT_I8_2, OUT_I8_3 = (_array(I8, n, False) for n in (1, 2, 3))
OUT_I4_1, OUT_I4_2, OUT_I4_3 = (_array(I4, n, False) for n in (1, 2, 3))
OUT_U1_1, OUT_U1_2, OUT_U1_3 = (_array(U1, n, False) for n in (1, 2, 3))


FINITE = {"nnan", "ninf", "nsz", "reassoc"}
"""What loops over finite numbers may be told: sums and least ones of several at once."""


def kernel(signature: Any, *, finite: bool = False) -> Callable[[F], F]:
    """Compile a function for the given explicit signature(s): cached on disk, without the interpreter lock.

    finite: all its numbers are; then the order of a sum may change, and with it the last digit.
    """

    def decorate(function: F) -> F:
        with _cache_folder() as usable:
            compiled: F = numba.njit(
                signature, cache=usable, nogil=True, error_model="numpy", fastmath=FINITE if finite else False
            )(_with_file(function))
        return compiled

    return decorate


@contextmanager
def _cache_folder() -> Iterator[bool]:
    """Point the compiler at our folder for one kernel, alone among all processes; yields whether it may be used.

    The setting is put back afterwards: programs that use this package as a library keep their own cache where it was.
    The lock is taken anew for each kernel, so two first starts at once share the work instead of doing it twice.
    """
    folder = compile_cache.folder(numba.__version__)
    if folder is None:
        yield False
        return
    with compile_cache.locked(folder) as usable:
        before = _config.CACHE_DIR
        _config.CACHE_DIR = str(folder)
        try:
            yield usable
        finally:
            _config.CACHE_DIR = before


def _with_file(function: F) -> F:
    """In a frozen bundle, name the module's real file: the compiler caches only what it can trace to a file."""
    if getattr(sys, "frozen", False) and isinstance(function, FunctionType):
        file = getattr(sys.modules[function.__module__], "__file__", None)
        if file:
            function.__code__ = function.__code__.replace(co_filename=file)
    return function
