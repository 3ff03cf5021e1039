"""Pictures that follow each other: a part that is turned, cut, lost for another one. One window for all."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QPointF
from pytestqt.qtbot import QtBot
from ui.pictures import block, picture_of_sample
from ui.view_bench import Bench, frame_of, pixel, settle

from ventplanner.geometry.pose import Pose
from ventplanner.ui.picture import Mesh, Picture, ShownCavity
from ventplanner.ui.view import loading
from ventplanner.ui.view.frames import Frames
from ventplanner.ui.view.section import Section
from ventplanner.ui.view.shapes import COARSE_ABOVE, Shapes
from ventplanner.ui.view.shown import DRAWING, REDRAWING
from ventplanner.ui.view.surfaces import Surfaces
from ventplanner.ui.view.turning import turn_between


def in_two(picture: Picture) -> Picture:
    """The same cavity as two, A its first faces and B its others."""
    faces = picture.cavities[0].faces
    half = len(faces) // 2
    cavities = tuple(
        ShownCavity(name, k, "sealed", False, part, picture.cavities[0].label_at)
        for k, (name, part) in enumerate((("A", faces[:half]), ("B", faces[half:])))
    )
    return replace(picture, cavities=cavities)


def turned(picture: Picture, key: str = "turned") -> Picture:
    """The same part lying on its side and shifted, with the faces of its cavities as new arrays."""
    vertices = picture.part.vertices[:, [2, 0, 1]] + [0.0, 30.0, 10.0]
    cavities = tuple(replace(c, faces=c.faces.copy()) for c in picture.cavities)
    return replace(picture, part=Mesh(key, vertices, picture.part.faces), cavities=cavities)


@pytest.fixture
def gate(monkeypatch: pytest.MonkeyPatch) -> Iterator[threading.Event]:
    """Surfaces are made only while this is set."""
    opened = threading.Event()
    opened.set()
    make = loading.make_shapes

    def wait_and_make(picture: Picture) -> Shapes:
        assert opened.wait(20.0)
        return make(picture)

    monkeypatch.setattr(loading, "make_shapes", wait_and_make)
    yield opened
    opened.set()


def blue(frame: np.ndarray) -> int:
    return int((frame[:, :, 2] - frame[:, :, 0] > 40).sum())


def wait_until_drawn(bench: Bench, qtbot: QtBot) -> None:
    frames: Frames = bench.view.findChild(Frames)
    qtbot.wait(1)
    qtbot.waitUntil(lambda: frames.is_resting, timeout=10000)


def test_a_turned_part_is_drawn_in_its_new_place_and_old_colours_until_its_own_surfaces_are_there(
    bench: Bench, qtbot: QtBot, gate: threading.Event
) -> None:
    view = bench.view
    bench.show_picture(in_two(block()))
    settle(bench, qtbot)
    gate.clear()
    bench.show_picture(turned(block()))
    wait_until_drawn(bench, qtbot)
    assert view.shown.notice == REDRAWING
    before = frame_of(bench)
    middle = pixel(view, (10.0, 30.0, 10.0))
    wall = pixel(view, (1.5, 30.0, 10.0))
    assert np.ptp(before[middle.y(), middle.x()]) > 40
    assert np.ptp(before[wall.y(), wall.x()]) < 30
    # The cavities that are seen have no names in the new picture yet.
    assert view.word_at(QPointF(middle) + QPointF(0, 40)) == ""
    gate.set()
    settle(bench, qtbot)
    assert view.shown.notice == ""
    after = frame_of(bench)
    assert np.array_equal(np.ptp(before, axis=2) > 40, np.ptp(after, axis=2) > 40)
    assert view.word_at(QPointF(middle) + QPointF(0, 40)) == "cavity A"


def test_labels_turn_together_with_the_part(bench: Bench, qtbot: QtBot) -> None:
    before = bench.view.shown.picture
    after = turned(block())
    mixed: list[bool] = []
    bench.view.frame_drawn.connect(lambda _ms: mixed.append(bench.sheet.shown.picture is not after))
    bench.show_picture(after)
    assert bench.sheet.shown.picture is before
    assert bench.sheet.shown.eye == bench.sheet.frame.shown.eye
    settle(bench, qtbot)
    assert bench.sheet.shown.picture is after
    assert mixed
    assert not any(mixed)


@pytest.mark.parametrize("more", [False, True])
def test_another_number_of_cavities_in_another_pose_breaks_nothing(bench: Bench, qtbot: QtBot, more: bool) -> None:
    one, two = block(), in_two(block())
    before, after = (one, turned(two)) if more else (two, turned(one))
    for picture in (before, replace(before, stale=True), after, replace(after, selected="cavity A")):
        bench.show_picture(picture)
    settle(bench, qtbot)
    assert np.ptp(frame_of(bench), axis=2).max() > 40


def test_a_sample_with_cut_vents_is_turned(bench: Bench, qtbot: QtBot) -> None:
    cut = picture_of_sample("lighthouse.stl", accept=2, drilled=True)
    other = picture_of_sample("lighthouse.stl", accept=2, to_plate=(-1.0, 0.0, 0.0))
    for picture in (cut, replace(cut, stale=True), other, replace(other, selected="cavity B")):
        bench.show_picture(picture)
        qtbot.wait(50)
    settle(bench, qtbot)
    assert blue(frame_of(bench)) > 1000
    assert bench.view.shown.notice == ""


def test_a_part_of_which_nothing_is_known_for_a_moment_keeps_its_colours(
    bench: Bench, qtbot: QtBot, gate: threading.Event
) -> None:
    picture = block()
    bare = replace(picture, cavities=(), vents=(), stale=True)
    coloured: list[int] = []
    bench.view.frame_drawn.connect(lambda _ms: coloured.append(int((np.ptp(frame_of(bench), axis=2) > 40).sum())))
    bench.show_picture(bare)
    settle(bench, qtbot)
    # Asked for before nothing was known, and made after that.
    gate.clear()
    bench.show_picture(turned(in_two(picture)))
    bench.show_picture(bare)
    gate.set()
    settle(bench, qtbot)
    bench.show_picture(turned(picture))
    settle(bench, qtbot)
    assert min(coloured) > 1000
    assert bench.view.shown.notice == ""
    assert not bench.view.findChild(Surfaces).is_turned


def test_another_part_is_said_to_be_on_its_way(bench: Bench, qtbot: QtBot, gate: threading.Event) -> None:
    gate.clear()
    bench.show_picture(block(n=10, size=30.0))
    wait_until_drawn(bench, qtbot)
    assert bench.view.shown.notice == DRAWING
    assert blue(frame_of(bench)) == 0
    gate.set()
    settle(bench, qtbot)
    assert bench.view.shown.notice == ""
    assert blue(frame_of(bench)) > 1000


def test_no_frame_shows_surfaces_without_their_colours(bench: Bench, qtbot: QtBot) -> None:
    picture = bench.view.shown.picture
    assert picture is not None
    coloured: list[int] = []
    bench.view.frame_drawn.connect(lambda _ms: coloured.append(blue(frame_of(bench))))
    meshes = [Mesh(f"cut {k}", picture.part.vertices, picture.part.faces) for k in range(3)]
    for drilled in (meshes[0], None, meshes[1], None, meshes[2]):
        bench.show_picture(replace(picture, drilled=drilled))
        settle(bench, qtbot)
    assert len(coloured) >= 5
    assert min(coloured) == max(coloured)


def test_an_error_while_drawing_reaches_the_window_and_the_frame_is_drawn_all_the_same(
    bench: Bench, qtbot: QtBot
) -> None:
    frames: Frames = bench.view.findChild(Frames)
    done: list[str] = []
    frames.tell(lambda _stage: 1 / 0)  # type: ignore[arg-type, return-value]
    frames.tell(lambda _stage: done.append("after it"))
    with qtbot.captureExceptions() as raised, qtbot.waitSignal(bench.view.frame_drawn):
        frames.draw(bench.view.shown)
    assert [kind for kind, _, _ in raised] == [ZeroDivisionError]
    assert done == ["after it"]
    with qtbot.waitSignal(bench.view.frame_drawn):
        frames.draw(bench.view.shown)


def test_an_error_while_surfaces_are_made_reaches_the_window_and_the_next_ones_are_made(
    bench: Bench, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    make = loading.make_shapes
    errors = iter([True, False])

    def make_or_fail(picture: Picture) -> Shapes:
        if next(errors):
            raise MemoryError("no room")
        return make(picture)

    monkeypatch.setattr(loading, "make_shapes", make_or_fail)
    with qtbot.captureExceptions() as raised:
        bench.show_picture(block(n=6, size=24.0))
        settle(bench, qtbot)
    assert [kind for kind, _, _ in raised] == [MemoryError]
    bench.show_picture(block(n=7, size=24.0))
    settle(bench, qtbot)
    assert blue(frame_of(bench)) > 1000


def test_a_cut_of_many_triangles_is_made_in_another_thread(
    bench: Bench, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    threads: list[str] = []
    make: Callable[..., loading.Cut] = loading.make_cut

    def make_and_note(*given: object) -> loading.Cut:
        threads.append(threading.current_thread().name)
        return make(*given)

    monkeypatch.setattr(loading, "make_cut", make_and_note)
    picture = block(n=80)
    assert len(picture.part.faces) > COARSE_ABOVE
    bench.show_picture(picture)
    settle(bench, qtbot)
    bench.view.set_printed(10.1)
    ((_, coarse),) = bench.view.shown.cuts
    settle(bench, qtbot)
    ((section, full),) = bench.view.shown.cuts
    assert section == Section.printed_to(10.1)
    assert len(full.start) == 2 * 2 * 4 * 80 > len(coarse.start)
    assert threads
    assert threading.main_thread().name not in threads


def test_section_and_printed_height_stay_when_the_part_is_turned_and_go_with_the_part(
    bench: Bench, qtbot: QtBot
) -> None:
    view, chart = bench.view, bench.chart
    said: list[object] = []
    view.section_changed.connect(said.append)
    section = Section((0.0, 0.0, 10.0), (0.0, -1.0, 0.0))
    view.set_section(section)
    for each in (view, chart):
        each.set_printed(8.0)
    bench.show_picture(turned(block()))
    assert view.shown.printed == chart.printed == 8.0
    assert view.shown.section == Section((0.0, 30.0, 10.0), (0.0, -1.0, 0.0))
    bench.show_picture(replace(turned(block(), "lower"), height=7.0))
    assert view.shown.printed is None
    assert chart.printed is None
    for each in (view, chart):
        each.set_printed(5.0)
    bench.show_picture(block(n=10, size=30.0))
    assert view.shown.printed is None
    assert chart.printed is None
    assert view.shown.section is None
    assert said[-1] is None
    settle(bench, qtbot)
    assert view.shown.cuts == ()


def test_closing_the_part_forgets_section_and_printed_height(bench: Bench) -> None:
    bench.view.set_section(Section((0.0, 0.0, 10.0), (0.0, -1.0, 0.0)))
    for each in (bench.view, bench.chart):
        each.set_printed(8.0)
    bench.show_picture(None)
    assert bench.view.shown.sections == ()
    assert bench.chart.printed is None


directions = st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda d: np.linalg.norm(d) > 0.1)


@given(directions, directions)
def test_the_turn_between_two_poses_brings_each_point_to_its_place(
    one: tuple[float, ...], two: tuple[float, ...]
) -> None:
    mesh = block(n=3).part
    a, b = (mesh.vertices @ Pose(to_plate=d).rotation.T + [0, 0, 7 * k] for k, d in enumerate((one, two)))  # type: ignore[arg-type]
    turn = turn_between(Mesh("a", a, mesh.faces), Mesh("b", b, mesh.faces))
    assert turn is not None
    assert np.allclose(a @ turn[:3, :3].T + turn[:3, 3], b, atol=1e-4)
    assert np.linalg.det(turn[:3, :3]) == pytest.approx(1.0)


def test_another_size_a_mirror_image_or_other_faces_are_another_part() -> None:
    mesh = picture_of_sample("seal-pup.stl").part
    others = [
        Mesh("in cm", 10.0 * mesh.vertices, mesh.faces),
        Mesh("mirrored", mesh.vertices * [-1.0, 1.0, 1.0], mesh.faces),
        Mesh("inside out", mesh.vertices, mesh.faces[:, ::-1]),
        Mesh("less", mesh.vertices[:-1], mesh.faces),
    ]
    for other in others:
        assert turn_between(mesh, other) is None
