"""The command that turns the selected vent into the direction of the view."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from bodies import box, solid

from ventplanner.app.state import AppState
from ventplanner.geometry.pose import Pose
from ventplanner.ui.commands import COMMANDS
from ventplanner.ui.view.eye import Eye


@pytest.mark.parametrize("hanging", [False, True])
@pytest.mark.parametrize(
    ("azimuth", "elevation", "ahead"),
    [(0.0, 0.0, (0.0, 1.0, 0.0)), (90.0, 0.0, (-1.0, 0.0, 0.0)), (0.0, 90.0, (0.0, 0.0, -1.0))],
)
def test_the_axis_points_away_from_who_looks_whichever_side_is_on_the_plate(
    azimuth: float, elevation: float, ahead: tuple[float, float, float], hanging: bool
) -> None:
    for to_plate in ((0.0, 0.0, -1.0), (0.6, 0.0, 0.8)):
        pose, eye = Pose(to_plate), Eye(azimuth=azimuth, elevation=elevation, hanging=hanging)
        asked: list[tuple[str, tuple[float, float, float]]] = []
        session = SimpleNamespace(
            state=AppState(solid(box(10.0)), pose=pose),
            selected="vent 1",
            set_axis=lambda word, axis, asked=asked: asked.append((word, axis)),
        )
        window = SimpleNamespace(session=session, stage=SimpleNamespace(view=SimpleNamespace(eye=eye)))
        next(c for c in COMMANDS if c.name == "along_view").do(window)  # type: ignore[arg-type]
        ((word, axis),) = asked
        assert word == "vent 1"
        build = pose.rotation @ np.array(axis)
        # The room is upside down for a hanging part: seen from above is seen from below the plate side.
        turned = np.array(ahead) * ([-1.0, 1.0, -1.0] if hanging else 1.0)
        assert build == pytest.approx(turned, abs=1e-9)
