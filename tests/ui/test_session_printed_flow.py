"""The session follows how the part breathes as printed: once the print is known, of the present plan and profile."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pytestqt.qtbot import QtBot
from ui.session_kit import CLOSING, COARSE, LONG_MS, coarse_, counted, opened_, part_, session_, settle  # noqa: F401  fixtures

from ventplanner.app.as_printed import BreathingPrinted
from ventplanner.flow.model import RoomFlow
from ventplanner.ui.picture import Band, Picture
from ventplanner.ui.session import Session


def known(qtbot: QtBot, session: Session) -> BreathingPrinted:
    qtbot.waitUntil(lambda: session.is_flow_known and session.breathing_printed is not None, timeout=LONG_MS)
    found = session.breathing_printed
    assert found is not None
    return found


def rows(session: Session, found: BreathingPrinted) -> tuple[RoomFlow, RoomFlow]:
    """The flow of the vented cup, in the model and as printed."""
    cup, model = session.plan.vents[0].cup, session.breathing
    assert model is not None
    assert found.flow.before is model.before  # without vents nothing is told as printed
    pair = model.after.of(cup), found.flow.after.of(cup)
    assert pair[0] is not None
    assert pair[1] is not None
    return pair[0], pair[1]


def picture_of(session: Session) -> Picture:
    picture = session.picture
    assert picture is not None
    return picture


def band(bands: tuple[Band, ...], cavity: str) -> Band:
    return next(b for b in bands if b.cavity == cavity)


def test_a_vent_that_prints_narrower_sucks_more_as_printed(coarse: Session, qtbot: QtBot) -> None:
    coarse.check_printed()
    model, printed = rows(coarse, known(qtbot, coarse))
    assert coarse.printed is not None
    opening = coarse.printed.of(coarse.plan.vents[0])
    assert opening is not None
    # A short hole lets through by the third to the fourth power of its width.
    narrower = opening.nominal_mm / opening.printed_mm
    assert narrower**2 * model.peak_suction < printed.peak_suction < narrower**5 * model.peak_suction
    assert not printed.capped


def test_a_vent_that_prints_closed_leaves_its_cavity_closed(coarse: Session, qtbot: QtBot) -> None:
    coarse.set_profile(CLOSING)
    coarse.check_printed()
    model, printed = rows(coarse, known(qtbot, coarse))
    assert not model.capped
    assert printed.capped
    assert printed.peak_suction == pytest.approx(CLOSING.air_pressure_pa)
    picture, cavity = picture_of(coarse), coarse.plan.vents[0].cavity
    assert picture.printed is not None
    curve = band(picture.printed.bands, cavity)
    assert band(picture.bands, cavity).with_vents.max() < 0.1 * curve.with_vents.max()
    # Its curve holds what the print says is sealed there; light that spreads takes some of the hollow.
    assert coarse.printed is not None
    sealed = sum(cup.volume_mm3 for cup in coarse.printed.cups(cavity))
    heights = picture.printed.heights
    areas = [float(np.trapezoid(values, heights)) for values in (curve.with_vents, curve.without)]
    assert areas[0] == pytest.approx(sealed, rel=0.01)
    assert 0.5 * areas[1] < areas[0] < areas[1]
    own = float(np.trapezoid(band(picture.bands, cavity).without, picture.heights))
    assert areas[1] == pytest.approx(own, rel=0.02)  # the dashed edge is that of the model
    suction = band(picture.printed.flow.suction, cavity).with_vents
    assert suction.max() == pytest.approx(1e-3 * CLOSING.air_pressure_pa)


def test_all_that_is_sealed_as_printed_is_in_some_band(coarse: Session, qtbot: QtBot) -> None:
    coarse.check_printed()
    found = known(qtbot, coarse)
    assert coarse.printed is not None
    total = coarse.printed.found.found.sealed_area
    assert np.array_equal(found.heights, total.height)
    assert np.allclose(np.sum(found.areas, axis=0), total.area)
    assert min(float(area.min()) for area in found.areas) >= 0.0


def test_it_is_of_one_plan_and_profile_and_undo_finds_it_at_once(coarse: Session, qtbot: QtBot) -> None:
    settle(qtbot, coarse)
    assert coarse.breathing_printed is None  # nobody asked how it prints
    told = counted(coarse.printed_changed)
    coarse.check_printed()
    assert picture_of(coarse).printed_coming
    first = known(qtbot, coarse)
    assert told
    assert not picture_of(coarse).printed_coming
    shown = picture_of(coarse).printed
    coarse.select("cavity A")
    assert picture_of(coarse).printed is shown  # pieces that did not change are the same
    coarse.accept(coarse.proposals[0].id)
    assert coarse.breathing_printed is None
    assert picture_of(coarse).printed is None
    coarse.undo()
    assert coarse.breathing_printed is first


def test_another_resin_is_solved_anew_with_the_same_print(coarse: Session, qtbot: QtBot) -> None:
    coarse.check_printed()
    thin = rows(coarse, known(qtbot, coarse))[1].peak_suction
    coarse.set_profile(replace(COARSE, viscosity_mpas=2.0 * COARSE.viscosity_mpas))
    assert coarse.breathing_printed is None
    found = known(qtbot, coarse)
    assert rows(coarse, found)[1].peak_suction == pytest.approx(2.0 * thin, rel=0.1)


def test_a_print_of_one_profile_is_never_taken_for_another(coarse: Session, qtbot: QtBot) -> None:
    capped = {}
    for profile in (COARSE, CLOSING, COARSE, CLOSING):
        coarse.set_profile(profile)  # the second time its print is known at once, before its flow is
        coarse.check_printed()
        is_closed = rows(coarse, known(qtbot, coarse))[1].capped
        assert capped.setdefault(profile.name, is_closed) == is_closed
    assert capped == {"Coarse": False, "Closing": True}


def test_a_part_that_is_closed_leaves_no_flow_as_printed(coarse: Session, qtbot: QtBot) -> None:
    coarse.check_printed()
    known(qtbot, coarse)
    coarse.close_part()
    assert coarse.breathing_printed is None
