"""Polygons for painting, made of arrays in one go: thousands of points as single objects would take their time."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QByteArray, QDataStream, QIODevice
from PySide6.QtGui import QPolygonF

from ventplanner.geometry.solid import FloatArray


def polygon_of(pixels: FloatArray) -> QPolygonF:
    """(n, 2) pixels as a polygon, exactly; by Qt's own serial form: a count and pairs of doubles, big end first."""
    polygon = QPolygonF()
    points = np.ascontiguousarray(pixels, dtype=">f8")
    data = QByteArray(len(points).to_bytes(4, "big") + points.tobytes())
    stream = QDataStream(data, QIODevice.OpenModeFlag.ReadOnly)
    stream >> polygon
    return polygon
