"""Injected damage of every class, and mixtures, against the part without it. Closedness and volumes are trimesh's."""

from __future__ import annotations

from functools import cache

import bodies
import damage
import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from ventplanner.geometry.solid import Solid
from ventplanner.geometry.topology import topology
from ventplanner.mending.mend import Mended, mend

PARTS = {"balls": damage.nested_balls, "bell": damage.bell}
IN_WALL = {"balls": (0.0, 0.0, 11.0), "bell": (0.0, 0.0, 1.0)}


@cache
def part(name: str) -> Solid:
    return PARTS[name]()


def skins(solid: Solid) -> list[tuple[float, int]]:
    """Volume and Euler number of each skin, by trimesh."""
    mesh = trimesh.Trimesh(solid.vertices, solid.faces, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    return sorted((float(one.volume), int(one.euler_number)) for one in mesh.split(only_watertight=False))


@cache
def truth(name: str) -> list[tuple[float, int]]:
    return skins(part(name))


def check(done: Mended, name: str, share: float = 1e-3) -> None:
    found, meant = skins(done.solid), truth(name)
    assert [euler for _, euler in found] == [euler for _, euler in meant]
    assert [volume for volume, _ in found] == pytest.approx([volume for volume, _ in meant], rel=share)
    assert done.solid.volume == pytest.approx(part(name).volume, rel=share)
    assert [n for n in done.left if n.what != "faces that go through their own skin"] == []


@pytest.mark.parametrize("name", PARTS)
@pytest.mark.parametrize("kind", damage.EVERY)
def test_damage_of_one_class_is_mended_with_every_cavity_as_it_was(kind: str, name: str) -> None:
    broken = damage.as_read(damage.EVERY[kind](damage.soup(part(name)), np.random.default_rng(7)))
    done = mend(broken)
    check(done, name)
    assert done.records
    for one in done.records:
        assert one.count > 0
        assert len(one.places_mm) == min(one.count, 20)


@settings(max_examples=12, deadline=None)
@given(
    st.sampled_from(list(PARTS)),
    st.lists(st.sampled_from(list(damage.EVERY)), min_size=2, max_size=5, unique=True),
    st.integers(0, 10**6),
)
def test_mixed_damage_is_mended_with_every_cavity_as_it_was(name: str, kinds: list[str], seed: int) -> None:
    rng, triangles = np.random.default_rng(seed), damage.soup(part(name))
    for kind in kinds:
        triangles = damage.EVERY[kind](triangles, rng)
    # A patch that lies over the sharp tip or rim of the bell leaves nothing to tell that there was one.
    check(mend(damage.as_read(triangles)), name, 1e-3 if name == "balls" else 2e-3)


@settings(max_examples=8, deadline=None)
@given(
    st.sampled_from(list(PARTS)),
    st.lists(st.sampled_from(list(damage.EVERY)), max_size=3, unique=True),
    st.integers(0, 2),
    st.booleans(),
    st.integers(0, 10**6),
)
def test_whole_skins_turned_over_and_bodies_buried_in_the_wall_are_mended_in_any_mixture(
    name: str, kinds: list[str], turned: int, is_buried: bool, seed: int
) -> None:
    found = topology(part(name))
    turned = min(turned, found.n_skins - 1)
    # Where the outermost skin is turned over, nothing tells a body in its wall from a cavity.
    is_buried &= turned > 0
    rng, triangles = np.random.default_rng(seed), damage.soup(part(name).flipped(found.skin_of_face == turned))
    if is_buried:
        triangles = np.vstack([triangles, bodies.ball(0.6, IN_WALL[name], fine=2).triangles])
    for kind in kinds:
        triangles = damage.EVERY[kind](triangles, rng)
    check(mend(damage.as_read(triangles)), name, 2e-3)


@pytest.mark.parametrize("name", PARTS)
def test_a_sound_part_comes_back_as_it_is(name: str) -> None:
    done = mend(part(name))
    assert done.solid is part(name)
    assert done.records == ()


def test_what_is_not_damaged_stays_to_the_last_bit() -> None:
    sound = damage.soup(part("balls"))
    done = mend(damage.as_read(damage.missing(sound, np.random.default_rng(3))))
    before = {one.tobytes() for one in sound}
    kept = sum(one.tobytes() in before for one in damage.soup(done.solid))
    assert kept >= len(sound) - 20
