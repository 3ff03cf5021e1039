"""The one place that imports numba: how kernels are compiled and where the result is kept.

Signatures are built from the names below, such as `VOID(IN_F8_2, IN_I4_2, OUT_I8_1)`: IN arrays may be read-only,
OUT arrays are written; the number is the number of dimensions; all are C-contiguous.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numba
from numba import types

F = TypeVar("F", bound=Callable[..., Any])


def _array(dtype: Any, dimensions: int, readonly: bool) -> Any:
    return types.Array(dtype, dimensions, "C", readonly=readonly)


VOID = types.void
F8, F4, I8, I4, U1, B1 = types.float64, types.float32, types.int64, types.int32, types.uint8, types.boolean
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


def kernel(signature: Any) -> Callable[[F], F]:
    """Compile a function for the given explicit signature(s): cached on disk, without the interpreter lock."""
    decorate: Callable[[F], F] = numba.njit(signature, cache=True, nogil=True, error_model="numpy")
    return decorate
