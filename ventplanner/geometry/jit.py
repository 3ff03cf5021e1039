"""The one place that imports numba: how kernels are compiled and where the result is kept."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numba

F = TypeVar("F", bound=Callable[..., Any])


def kernel(signature: str | list[str]) -> Callable[[F], F]:
    """Compile a function for the given explicit signature(s): cached on disk, without the interpreter lock."""
    decorate: Callable[[F], F] = numba.njit(signature, cache=True, nogil=True, error_model="numpy")
    return decorate
