"""The small parts as files."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import bodies
import pytest
import trimesh
from command_line import Runner, hollow_box, open_box, plate_hole, run_here, side_hole, u_bend
from hollow_parts import keel_skins

from ventplanner.app import jobs
from ventplanner.io.profile_json import write_profile
from ventplanner.profile import Profile


@pytest.fixture(scope="session")
def run() -> Runner:
    return run_here


@pytest.fixture(scope="session")
def parts(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Files that no test may write to."""
    folder = tmp_path_factory.mktemp("parts")
    made = {make.__name__: make() for make in (hollow_box, u_bend, side_hole, plate_hole, open_box)}
    made["block"] = bodies.box([10, 12, 14])
    made["keel"] = trimesh.util.concatenate(keel_skins())
    for name, mesh in made.items():
        mesh.export(folder / f"{name}.stl")
    return {name: folder / f"{name}.stl" for name in made}


@pytest.fixture(scope="session")
def coarse(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    """Options for what does not ask how wide openings print: of large pixels a whole open part is soon looked at."""
    path = tmp_path_factory.mktemp("profile") / "coarse.json"
    write_profile(path, Profile("Coarse", pixel_mm=0.25, layer_height_mm=0.2))
    return "--profile", str(path)


@pytest.fixture(scope="module")
def no_other_places() -> Iterator[None]:
    """The JSON of `vent` without other places for each vent, which take longer than all the rest: for modules that do
    not ask for them (`test_prefer.py` and `test_json.py` do)."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(jobs, "_others", lambda *_: {})
        yield


@pytest.fixture
def box(parts: dict[str, Path], tmp_path: Path) -> Path:
    """A hollow box of its own for each test."""
    own = tmp_path / "box.stl"
    own.write_bytes(parts["hollow_box"].read_bytes())
    return own
