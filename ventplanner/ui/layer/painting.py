"""A layer as an image: every state has a colour and a pattern of its own, so that neither is needed alone."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PySide6.QtGui import QImage

from ventplanner.ui.layer.plane import Plane
from ventplanner.ui.layer.states import BREATHING, CURED, MATERIAL, OUTSIDE, SEALED
from ventplanner.ui.view.colours import Colours, mixed

if TYPE_CHECKING:
    from ventplanner.app.layers import Layer

Codes = NDArray[np.uint8]

_STRIPE, _DOT, _CROSS, _EDGE, _RING = 8, 16, 32, 64, 128
"""Bits of a code beside the state: whether a pixel lies on the pattern of stripes, dots or crosses, on an edge between
two states, or on the rim of what is selected."""

_STRIPES_PX, _STRIPE_PX, _DOTS_PX, _CROSSES_PX, RING_PX = 9, 3, 9, 7, 2
"""Period and width of the patterns, and width of the rim of what is selected, in logical pixels."""


@dataclass(frozen=True)
class _Inks:
    """Fill and pattern of a state as #rrggbb, and the bit of its pattern; 0 for none."""

    fill: str
    pattern: str
    bit: int


def _inks(colours: Colours) -> dict[int, _Inks]:
    paper = colours.paper
    return {
        MATERIAL: _Inks(colours.cut, colours.cut, 0),
        OUTSIDE: _Inks(paper, paper, 0),
        BREATHING: _Inks(mixed(paper, colours.breathing, 0.20), mixed(paper, colours.breathing, 0.95), _DOT),
        SEALED: _Inks(mixed(paper, colours.sealed, 0.30), colours.sealed, _STRIPE),
        CURED: _Inks(mixed(colours.cut, "#22272a", 0.78), mixed(colours.cut, "#ffffff", 0.55), _CROSS),
    }


@lru_cache(maxsize=4)
def _table(colours: Colours) -> NDArray[np.uint32]:
    """(256,) colour of each code, as QImage wants it."""
    table = np.zeros(256, dtype=np.uint32)
    for state, inks in _inks(colours).items():
        edge = mixed(inks.fill, colours.ink, 0.62)
        for rest in range(0, 256, 8):
            colour = inks.pattern if inks.bit & rest else inks.fill
            colour = edge if rest & _EDGE else colour
            colour = colours.ink if rest & _RING else colour
            table[state | rest] = 0xFF000000 | int(colour[1:], 16)
    return table


@lru_cache(maxsize=4)
def _patterns(width: int, height: int, ratio: float) -> Codes:
    """(height, width) bits of the patterns."""

    def px(logical: float) -> int:
        return max(1, round(logical * ratio))

    x, y = np.arange(width)[None, :], np.arange(height)[:, None]
    out = np.zeros((height, width), dtype=np.uint8)
    out[(x + y) % px(_STRIPES_PX) < px(_STRIPE_PX)] |= _STRIPE
    dots, cross = px(_DOTS_PX), px(_CROSSES_PX)
    odd = (y // dots) % 2 * (dots // 2)
    out[((x + odd) % dots < px(2)) & (y % dots < px(2))] |= _DOT
    out[((x + y) % cross < px(1)) | ((x - y) % cross < px(1))] |= _CROSS
    return out


def image_of(layer: Layer, plane: Plane, colours: Colours, selected: int = -1, ratio: float = 1.0) -> QImage:
    """The layer as it looks in a window. selected: place of the cavity whose rim is drawn, -1 for none. ratio: device
    pixels for a logical one."""
    width, height = max(1, round(plane.width * ratio)), max(1, round(plane.height * ratio))
    rows, columns = _cells(layer, plane, width, height, ratio)
    states = layer.states.take(rows, axis=0).take(columns, axis=1)
    codes = states | _patterns(width, height, ratio)
    codes[:, 1:] |= (states[:, 1:] != states[:, :-1]).view(np.uint8) << 6
    codes[1:] |= (states[1:] != states[:-1]).view(np.uint8) << 6
    if selected >= 0:
        void = (states == BREATHING) | (states == SEALED)
        own = layer.cavity.take(rows // layer.block, axis=0).take(columns // layer.block, axis=1) == selected
        codes |= _rim(void & own, max(1, round(RING_PX * ratio))).view(np.uint8) << 7
    pixels = _table(colours).take(codes)
    # The image copies nothing by itself: `copy` makes it outlive the array.
    image = QImage(pixels.data, width, height, 4 * width, QImage.Format.Format_RGB32).copy()
    image.setDevicePixelRatio(ratio)
    return image


def _cells(
    layer: Layer, plane: Plane, width: int, height: int, ratio: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Row and column of the layer's pixels that each row and column of the image shows; beyond them is outside, as is
    their outermost ring."""
    grid = layer.grid
    x = plane.x + ((np.arange(width) + 0.5) / ratio - 0.5 * plane.width) * plane.mm_per_px
    y = plane.y - ((np.arange(height) + 0.5) / ratio - 0.5 * plane.height) * plane.mm_per_px
    columns = np.clip(np.floor((x - grid.x0) / grid.pitch), 0, grid.nx - 1).astype(np.int64)
    rows = np.clip(np.floor((y - grid.y0) / grid.pitch), 0, grid.ny - 1).astype(np.int64)
    return rows, columns


def _rim(inside: NDArray[np.bool_], width: int) -> NDArray[np.bool_]:
    """The pixels within `width` of the rim, on the inside."""
    deep = inside.copy()
    deep[width:] &= inside[:-width]
    deep[:-width] &= inside[width:]
    deep[:, width:] &= inside[:, :-width]
    deep[:, :-width] &= inside[:, width:]
    return inside & ~deep


def swatch(state: int, colours: Colours, width: int, height: int, ratio: float) -> QImage:
    """A small piece of a state's colour and pattern, for the legend."""
    across, down = max(1, round(width * ratio)), max(1, round(height * ratio))
    codes = np.uint8(state) | _patterns(across, down, ratio)
    pixels = _table(colours).take(codes)
    image = QImage(pixels.data, across, down, 4 * across, QImage.Format.Format_RGB32).copy()
    image.setDevicePixelRatio(ratio)
    return image
