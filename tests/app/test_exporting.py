"""`export` and `write`: a file that was verified, or the file that was there before."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import bodies
import numpy as np
import pytest

import ventplanner
from ventplanner.analysis.findings import Findings, analyse
from ventplanner.app import exporting, rewriting
from ventplanner.app.exporting import export, write
from ventplanner.errors import FileWriteError, NotVerifiedError, ParameterError
from ventplanner.geometry.solid import Solid
from ventplanner.options import AnalysisOptions
from ventplanner.plan.drilling import drill
from ventplanner.plan.model import Plan
from ventplanner.plan.placement import propose

OPTIONS = AnalysisOptions(pitch_mm=0.25)


@pytest.fixture(scope="module")
def findings() -> Findings:
    return analyse(bodies.solid(bodies.box(20), bodies.inward(bodies.box(16))), options=OPTIONS)


@pytest.fixture(scope="module")
def plan(findings: Findings) -> Plan:
    return propose(findings)


@pytest.mark.parametrize("suffix", [".stl", ".3mf", ".obj", ".ply"])
def test_the_reread_part_is_the_drilled_part(findings: Findings, plan: Plan, tmp_path: Path, suffix: str) -> None:
    done = export(findings, plan, tmp_path / f"out{suffix}")
    assert done.path == tmp_path / f"out{suffix}"
    assert done.reread.volume == pytest.approx(done.drilled.solid.volume, rel=1e-12)
    assert len(done.reread.faces) == len(done.drilled.solid.faces)
    assert [cavity.state for cavity in done.after.cavities] == ["breathing"]
    again = ventplanner.read(done.path)
    assert np.array_equal(again.vertices, done.reread.vertices)


def test_write_drills_anew_where_the_format_is_coarser(findings: Findings, plan: Plan, tmp_path: Path) -> None:
    drilled = drill(findings.part, plan, single_precision=False)
    one, other = write(drilled, tmp_path / "a.stl"), export(findings, plan, tmp_path / "b.stl")
    assert one.path.read_bytes() == other.path.read_bytes()
    assert not write(drilled, tmp_path / "a.obj").drilled.solid.source.single_precision


def moved(solid: Solid) -> Solid:
    vertices = solid.vertices.copy()
    vertices[0] += 0.01
    return Solid(vertices, solid.faces, solid.bodies, solid.source)


def pierced(solid: Solid) -> Solid:
    return Solid(solid.vertices, solid.faces[1:], (), solid.source)


def plugged(_: Solid) -> Solid:
    return bodies.solid(bodies.box(20), bodies.inward(bodies.box(16)))


@pytest.mark.parametrize(
    ("change", "named"), [(moved, "away from the vents"), (pierced, "edges with one face"), (plugged, "missing")]
)
def test_a_file_that_is_not_as_planned_is_not_put_in_place(
    findings: Findings,
    plan: Plan,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    change: Callable[[Solid], Solid],
    named: str,
) -> None:
    """A writer that goes wrong, as seen by the reader."""
    honest = rewriting.read
    monkeypatch.setattr(rewriting, "read", lambda path, unit: change(honest(path, unit)))
    out = tmp_path / "out.stl"
    out.write_bytes(b"precious")
    with pytest.raises(NotVerifiedError) as error:
        export(findings, plan, out, overwrite=True)
    assert named in " ".join(error.value.differences)
    assert out.read_bytes() == b"precious"
    assert list(tmp_path.iterdir()) == [out]


def test_a_file_that_cannot_be_read_again_is_not_put_in_place(
    findings: Findings, plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(exporting, "write_draft", lambda _solid, path, **_: path.write_bytes(b"solid nothing\n"))
    with pytest.raises(NotVerifiedError, match="cannot be read"):
        export(findings, plan, tmp_path / "out.stl")
    assert list(tmp_path.iterdir()) == []


def test_what_must_succeed_before_the_file_is_put_in_place_can_stop_it(
    findings: Findings, plan: Plan, tmp_path: Path
) -> None:
    def fails() -> None:
        raise FileWriteError("no")

    with pytest.raises(FileWriteError):
        export(findings, plan, tmp_path / "out.stl", when_verified=fails)
    assert list(tmp_path.iterdir()) == []


def test_an_existing_file_is_refused_before_the_drill(
    findings: Findings, plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out.stl"
    out.touch()
    drilled = drill(findings.part, plan)
    monkeypatch.setattr(exporting, "drill", lambda *_, **__: pytest.fail("drilled"))
    monkeypatch.setattr(exporting, "analyse", lambda *_, **__: pytest.fail("analysed"))
    for job in (lambda: export(findings, plan, out), lambda: write(drilled, out)):
        with pytest.raises(FileWriteError, match="exists"):
            job()


def test_a_plan_of_another_part_is_refused(findings: Findings, plan: Plan, tmp_path: Path) -> None:
    with pytest.raises(ParameterError, match="another part"):
        write(drill(bodies.solid(bodies.box(20)), plan), tmp_path / "out.stl")


def test_a_part_without_holes_is_drilled_with_an_empty_plan_and_written(tmp_path: Path) -> None:
    part, out = bodies.solid(bodies.box(20)), tmp_path / "box.stl"
    with pytest.raises(ParameterError, match="not a Solid") as refused:
        write(part, out)  # type: ignore[arg-type]
    assert "write(drill(part, Plan()), path)" in refused.value.way_out
    assert not out.exists()
    assert write(drill(part, Plan()), out).reread.volume == pytest.approx(8000.0)
