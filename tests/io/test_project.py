"""A plan file gives back what was saved, is the same bytes for the same plan, and is refused when it is not whole."""

from __future__ import annotations

import json
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from plan_values import saved_plans, vent, wedge

from ventplanner import __version__
from ventplanner.errors import FileReadError, FileWriteError, ParameterError, ProjectError
from ventplanner.geometry.face_mask import FaceMask
from ventplanner.geometry.solid import Solid
from ventplanner.io.profile_json import encode_profile
from ventplanner.io.project import SavedPlan, load_plan, save_plan
from ventplanner.plan.model import NoVent, Plan
from ventplanner.plan.refusal import Refusal
from ventplanner.profile import Profile

one_folder = settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], max_examples=60
)
PLAN = SavedPlan(
    wedge("/home/nell/shop/whelk.stl"),
    Plan((vent("1", 0.0), vent("2", 20.0)), (NoVent("B", "B1", "the wall is too long", "19 mm"),), (("C", "a lamp"),)),
    set_aside=(vent("3", 9.0),),
    proposals=(("2", vent("2", 21.0)),),
    left_at=(("C", (1.0, 2.0, 3.0)),),
    profile=Profile("Harbour grey", viscosity_mpas=420.0, base_layers=7),
    keep_clear=FaceMask.at(4, [1, 3]),
)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    save_plan(tmp_path / "whelk.ventplan", PLAN)
    return tmp_path / "whelk.ventplan"


def members_of(file: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(file) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def pack(file: Path, members: dict[str, bytes], compression: int = zipfile.ZIP_STORED) -> Path:
    with zipfile.ZipFile(file, "w", compression) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return file


def edited(file: Path, change: Callable[[Any], object]) -> Path:
    """The file with another plan.json, all else untouched."""
    members = members_of(file)
    document = json.loads(members["plan.json"])
    change(document)
    return pack(file, {**members, "plan.json": json.dumps(document).encode()})


@one_folder
@given(saved=saved_plans())
def test_every_plan_comes_back_as_it_was_saved(tmp_path: Path, saved: SavedPlan) -> None:
    save_plan(tmp_path / "any.ventplan", saved, overwrite=True)
    back = load_plan(tmp_path / "any.ventplan")
    assert np.array_equal(back.part.vertices, saved.part.vertices)
    assert np.array_equal(back.part.faces, saved.part.faces)
    assert (back.part.digest, back.part.bodies) == (saved.part.digest, saved.part.bodies)
    assert back.part.source == saved.part.source
    # Making the direction a unit vector again may change its last bit.
    assert np.allclose(back.pose.to_plate, saved.pose.to_plate, rtol=0, atol=1e-15)
    assert replace(back, part=saved.part, pose=saved.pose) == saved
    assert (back.pose.on, back.pose.gap_mm) == (saved.pose.on, saved.pose.gap_mm)


def test_the_same_plan_gives_the_same_bytes(file: Path, tmp_path: Path) -> None:
    save_plan(tmp_path / "again.ventplan", load_plan(file))
    assert (tmp_path / "again.ventplan").read_bytes() == file.read_bytes()


def test_the_file_is_laid_out_as_documented(file: Path) -> None:
    members = members_of(file)
    digest = PLAN.part.digest
    assert PLAN.keep_clear is not None
    marks = f"keep-clear/{PLAN.keep_clear.digest}/faces.u1"
    assert list(members) == ["plan.json", f"part/{digest}/vertices.f64", f"part/{digest}/faces.i32", marks]
    assert members[marks] == bytes([0b1010])  # faces 1 and 3 of 4
    assert members[f"part/{digest}/vertices.f64"] == PLAN.part.vertices.astype("<f8").tobytes()
    assert members[f"part/{digest}/faces.i32"] == PLAN.part.faces.astype("<i4").tobytes()
    document = json.loads(members["plan.json"])
    assert document["schema"] == "ventplanner-plan/1"
    assert document["program"] == __version__
    assert document["vents"][1]["proposal"]["entry_mm"] == [21, 0, 0]
    assert document["left_alone"] == [{"cavity": "C", "note": "a lamp", "at_mm": [1, 2, 3]}]


def test_every_key_is_explained_in_the_description_of_the_format(file: Path) -> None:
    folder = Path(__file__).parents[2] / "resources"
    document = json.loads(members_of(file)["plan.json"])
    own = document["profile"]
    for found, page in (({**document, "profile": None}, "plan-format.md"), (own, "profile-format.md")):
        description = (folder / page).read_text()
        named = {key for key in all_keys(found) if f"`{key}`" in description or f'"{key}"' in description}
        assert all_keys(found) - named == set()


def test_the_profile_stands_in_the_plan_as_in_its_own_file(file: Path) -> None:
    assert PLAN.profile is not None
    assert json.loads(members_of(file)["plan.json"])["profile"] == json.loads(encode_profile(PLAN.profile))
    assert load_plan(file).profile == PLAN.profile


@pytest.mark.parametrize("how", ["left out", "null"])
def test_a_plan_of_an_earlier_version_has_no_profile(file: Path, how: str) -> None:
    def change(document: Any) -> None:
        if how == "null":
            document["profile"] = None
        else:
            del document["profile"]

    back = load_plan(edited(file, change))
    assert back.profile is None
    assert back.plan == PLAN.plan


def test_a_number_that_a_profile_in_a_plan_does_not_give_is_the_usual_one(file: Path) -> None:
    own = {"schema": "ventplanner-profile/1", "name": "Mine", "lift_speed_mm_min": 33}
    back = load_plan(edited(file, lambda document: document.update(profile=own)))
    assert back.profile == Profile("Mine", lift_speed_mm_min=33.0)


def all_keys(value: object) -> set[str]:
    if isinstance(value, dict):
        return set(value).union(*map(all_keys, value.values()))
    return set().union(*map(all_keys, value)) if isinstance(value, list) else set()


@pytest.mark.parametrize("path", ["/home/nell/shop/whelk.stl", "C:\\nell\\shop\\whelk.stl", "whelk.stl"])
def test_only_the_name_of_the_part_is_kept_and_not_its_folders(tmp_path: Path, path: str) -> None:
    save_plan(tmp_path / "whelk.ventplan", replace(PLAN, part=wedge(path)))
    assert b"nell" not in (tmp_path / "whelk.ventplan").read_bytes()
    assert load_plan(tmp_path / "whelk.ventplan").part.source.path == "whelk.stl"


def test_a_reason_that_points_at_a_place_is_saved_as_its_words(tmp_path: Path) -> None:
    missing = NoVent("B", "B1", Refusal("the wall is too long", np.ones(3)), Refusal("19 mm", np.ones(3)))
    save_plan(tmp_path / "bell.ventplan", replace(PLAN, plan=replace(PLAN.plan, missing=(missing,))))
    (read,) = load_plan(tmp_path / "bell.ventplan").plan.missing
    assert (read.reason, read.closest) == ("the wall is too long", "19 mm")


def test_a_part_whose_file_name_is_no_text_can_be_saved(tmp_path: Path) -> None:
    save_plan(tmp_path / "whelk.ventplan", replace(PLAN, part=wedge("/shop/whelk\udce4.stl")))
    assert load_plan(tmp_path / "whelk.ventplan").part.source.path == "whelk?.stl"


def test_an_existing_file_is_replaced_only_when_allowed(file: Path) -> None:
    before = file.read_bytes()
    with pytest.raises(FileWriteError):
        save_plan(file, replace(PLAN, plan=Plan()))
    assert file.read_bytes() == before
    save_plan(file, replace(PLAN, plan=Plan()), overwrite=True)
    assert load_plan(file).plan == Plan()


@pytest.mark.parametrize("name", ["whelk.stl", "whelk", "whelk.zip"])
def test_a_plan_is_saved_under_its_own_suffix_only(tmp_path: Path, name: str) -> None:
    with pytest.raises(ParameterError, match=r"ends in \.ventplan"):
        save_plan(tmp_path / name, PLAN, overwrite=True)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "bad",
    [vent("2", float("nan")), vent("2", diameter_mm=0.0), vent("2", axis=(0.0, 0.0, 2.0)), vent("1"), vent("\ud800")],
    ids=["nan", "no diameter", "no unit vector", "id twice", "no text"],
)
def test_a_plan_that_could_not_be_read_again_is_not_saved(tmp_path: Path, bad: object) -> None:
    with pytest.raises(ProjectError):
        save_plan(tmp_path / "whelk.ventplan", replace(PLAN, plan=Plan((vent("1", 0.0), bad))))  # type: ignore[arg-type]
    assert list(tmp_path.iterdir()) == []


def deep(document: Any, place: str) -> tuple[Any, Any]:
    """The container and key of a place such as `vents/0/vent/id`."""
    *way, last = (int(step) if step.isdecimal() else step for step in place.split("/"))
    for step in way:
        document = document[step]
    return document, last


@pytest.mark.parametrize(
    ("place", "value", "message"),
    [
        ("vents/1/vent/diameter_mm", "wide", r"Expected `float`, got `str` - at `\$\.vents\[1\]\.vent\.diameter_mm`"),
        ("vents/1/vent/diameter_mm", 0, r"\$\.vents\[1\]\.vent\.diameter_mm"),
        ("vents/0/vent/axis", [1, 1, 0], r"\$\.vents\[0\]\.vent\.axis is no unit vector"),
        ("vents/0/vent/axis", [1, 0], r"\$\.vents\[0\]\.vent\.axis"),
        ("vents/0/vent/kind", "plug", r"\$\.vents\[0\]\.vent\.kind"),
        ("vents/0/vent/id", "2", r"\$\.vents holds '2' twice"),
        ("set_aside/0/wall_mm", None, r"\$\.set_aside\[0\]\.wall_mm"),
        ("pose/on", "air", r"\$\.pose\.on"),
        ("pose/to_plate", [0, 0, 0], r"direction to the plate .* is no direction"),
        ("options/pitch_mm", 0, r"pitch cannot be 0 mm"),
        ("rules/vents_per_cavity", 9, r"number of openings per cavity cannot be 9"),
        ("part/digest", "../../etc", r"\$\.part\.digest"),
        ("part/vertices", 5, r"vertices\.f64 has 96 bytes, which cannot be"),
        ("part/faces", 2**40, r"\$\.part\.faces"),
        ("part/bodies/0/stop", 5, r"\$\.part\.bodies\[0\] is no run"),
        ("left_alone/0/at_mm", [1, 2], r"\$\.left_alone\[0\]\.at_mm"),
        ("profile", "Harbour grey", r"Expected `object \| null`, got `str` - at `\$\.profile`"),
        ("profile/schema", "ventplanner-plan/1", r"\$\.profile is no profile"),
        ("profile/viscosity_mpas", "thick", r"\$\.profile: The viscosity cannot be 'thick'"),
        ("profile/pixel_mm", 7, r"\$\.profile: The pixel cannot be 7 mm"),
        ("profile/base_layers", 2.5, r"\$\.profile: The base layers cannot be 2\.5"),
        ("profile/name", "", r"\$\.profile: A profile cannot be called ''"),
        ("profile/colour", "teal", r"\$\.profile has a field that no profile has: colour"),
        ("schema", "ventplanner/1", "is not that of a plan"),
        ("schema", "ventplanner-plan/one", "is not that of a plan"),
        ("schema", "ventplanner-plan/0", "there is no format 0"),
    ],
)
def test_a_wrong_value_is_named_with_its_place(file: Path, place: str, value: object, message: str) -> None:
    def change(document: Any) -> None:
        container, key = deep(document, place)
        container[key] = value

    with pytest.raises(ProjectError, match=rf"^whelk\.ventplan: .*{message}"):
        load_plan(edited(file, change))


@pytest.mark.parametrize("place", ["vents/0/vent/exit_mm", "part/digest", "pose/to_plate", "options/nested", "rules"])
def test_a_missing_key_is_named_and_never_replaced_by_a_default(file: Path, place: str) -> None:
    def change(document: Any) -> None:
        container, key = deep(document, place)
        del container[key]

    with pytest.raises(ProjectError, match=f"missing required field `{place.rpartition('/')[2]}`"):
        load_plan(edited(file, change))


def test_a_newer_format_is_refused_with_the_version_to_install(file: Path) -> None:
    def change(document: Any) -> None:
        document.clear()
        document.update(schema="ventplanner-plan/3", program="9.1", everything="else")

    with pytest.raises(ProjectError, match=r"newer ventplanner \(9\.1\).*Install the newer version"):
        load_plan(edited(file, change))


def test_what_a_later_version_of_the_same_format_added_is_skipped(file: Path) -> None:
    def change(document: Any) -> None:
        document["schema"] = "ventplanner-plan/1.3"
        document["bridges"] = [{"from": "A", "to": "B"}]
        document["vents"][0]["vent"]["colour"] = "teal"

    back = load_plan(edited(file, change))
    assert back.plan == PLAN.plan


def test_a_part_that_was_changed_is_refused(file: Path) -> None:
    members = members_of(file)
    name = f"part/{PLAN.part.digest}/vertices.f64"
    moved = PLAN.part.vertices + np.array([0, 0, 1e-9])
    with pytest.raises(ProjectError, match="its digest differs"):
        load_plan(pack(file, {**members, name: moved.tobytes()}))


def test_a_part_whose_faces_name_no_vertex_is_refused(file: Path) -> None:
    members = members_of(file)
    name = f"part/{PLAN.part.digest}/faces.i32"
    with pytest.raises(ProjectError, match="names a vertex that does not exist"):
        load_plan(pack(file, {**members, name: np.full((4, 3), 99, "<i4").tobytes()}))


@pytest.mark.parametrize("member", ["plan.json", f"part/{PLAN.part.digest}/faces.i32"])
def test_a_missing_member_is_named(file: Path, member: str) -> None:
    members = members_of(file)
    del members[member]
    with pytest.raises(ProjectError, match=rf"{member} is missing"):
        load_plan(pack(file, members))


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_member_that_is_there_twice_is_refused(file: Path) -> None:
    with zipfile.ZipFile(file, "a") as archive:
        archive.writestr("plan.json", "{}")
    with pytest.raises(ProjectError, match=r"plan\.json is there twice"):
        load_plan(file)


def test_a_compressed_member_is_refused_before_it_is_unpacked(file: Path) -> None:
    members = {**members_of(file), "plan.json": b" " * 10_000_000}
    with pytest.raises(ProjectError, match="Pack the file again without compression"):
        load_plan(pack(file, members, zipfile.ZIP_DEFLATED))


@pytest.mark.parametrize("text", [b"", b"{", b"\xff\xfe", b"[]", b"null", b'{"schema": NaN}'])
def test_what_is_no_json_is_refused(file: Path, text: bytes) -> None:
    with pytest.raises(ProjectError, match=r"^whelk\.ventplan: plan\.json: "):
        load_plan(pack(file, {**members_of(file), "plan.json": text}))


@pytest.mark.parametrize("content", [b"", b"solid whelk\nendsolid whelk\n", b"PK\x05\x06" + b"\0" * 18])
def test_what_is_no_plan_file_is_refused(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "whelk.ventplan").write_bytes(content)
    with pytest.raises(ProjectError, match=r"^whelk\.ventplan"):
        load_plan(tmp_path / "whelk.ventplan")


@pytest.mark.parametrize("name", ["nowhere.ventplan", "."])
def test_what_cannot_be_opened_is_named(tmp_path: Path, name: str) -> None:
    with pytest.raises(FileReadError, match="cannot be read"):
        load_plan(tmp_path / name)


def test_an_archive_that_points_before_its_beginning_is_refused(file: Path) -> None:
    content = bytearray(file.read_bytes())
    end = content.rindex(b"PK\x05\x06")
    content[end + 16 : end + 20] = (2**32 - 2).to_bytes(4, "little")  # where the directory of the archive begins
    file.write_bytes(content)
    with pytest.raises(ProjectError, match=r"^whelk\.ventplan is no plan file, or is damaged"):
        load_plan(file)


@one_folder
@given(data=st.data())
def test_a_file_cut_short_anywhere_is_refused(tmp_path: Path, data: st.DataObject) -> None:
    save_plan(tmp_path / "whelk.ventplan", PLAN, overwrite=True)
    whole = (tmp_path / "whelk.ventplan").read_bytes()
    (tmp_path / "cut.ventplan").write_bytes(whole[: data.draw(st.integers(0, len(whole) - 1))])
    with pytest.raises(ProjectError):
        load_plan(tmp_path / "cut.ventplan")


@settings(one_folder, max_examples=300)
@given(data=st.data())
def test_a_damaged_byte_is_refused_or_harmless(tmp_path: Path, data: st.DataObject) -> None:
    save_plan(tmp_path / "whelk.ventplan", PLAN, overwrite=True)
    content = bytearray((tmp_path / "whelk.ventplan").read_bytes())
    for _ in range(data.draw(st.integers(1, 3))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    (tmp_path / "damaged.ventplan").write_bytes(content)
    try:
        back = load_plan(tmp_path / "damaged.ventplan")
    except ProjectError:
        return
    assert replace(back, part=PLAN.part) == PLAN
    assert back.part.digest == PLAN.part.digest


def test_a_part_without_triangles_is_kept_as_it_is(tmp_path: Path) -> None:
    empty = Solid(np.zeros((0, 3)), np.zeros((0, 3), np.int32))
    save_plan(tmp_path / "empty.ventplan", SavedPlan(empty))
    assert load_plan(tmp_path / "empty.ventplan").part.digest == empty.digest


def test_a_plan_without_marks_has_no_member_for_them_and_an_old_one_opens(file: Path, tmp_path: Path) -> None:
    assert [name for name in members_of(file) if name.startswith("keep-clear/")]
    save_plan(tmp_path / "bare.ventplan", replace(PLAN, keep_clear=None))
    assert not [name for name in members_of(tmp_path / "bare.ventplan") if name.startswith("keep-clear/")]
    assert load_plan(edited(file, lambda plan: plan.pop("keep_clear"))).keep_clear is None


@pytest.mark.parametrize(("content", "why"), [(b"\x03", "digest differs"), (b"\xf0", "do not exist"), (b"", "bytes")])
def test_marks_that_were_changed_are_refused(file: Path, content: bytes, why: str) -> None:
    members = members_of(file)
    name = next(name for name in members if name.startswith("keep-clear/"))
    with pytest.raises(ProjectError, match=why):
        load_plan(pack(file, {**members, name: content}))


def test_marks_that_are_missing_are_told(file: Path) -> None:
    members = {name: data for name, data in members_of(file).items() if not name.startswith("keep-clear/")}
    with pytest.raises(ProjectError, match="missing"):
        load_plan(pack(file, members))
