"""3MF by the Core Specification 1.4.0; chapters are named as they are there (titles from memory)."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import mesh_files as hand
import numpy as np
import pytest
from mesh_files import model_xml, object_xml

from ventplanner.errors import FileReadError
from ventplanner.geometry.solid import Body, Solid, Source
from ventplanner.io import threemf_model
from ventplanner.io.meshes import read, write

ITEM = '<item objectid="1"/>'


def saved(folder: Path, model: str | bytes, others: dict[str, str] | None = None) -> Path:
    path = folder / "part.3mf"
    path.write_bytes(hand.threemf(model, others))
    return path


def refused(folder: Path, model: str | bytes, message: str, others: dict[str, str] | None = None) -> None:
    with pytest.raises(FileReadError, match=message) as caught:
        read(saved(folder, model, others))
    assert caught.value.way_out


@pytest.mark.parametrize(
    ("attributes", "unit", "factor"),
    [
        ("", "mm", 1.0),  # chapter "3D Models": the unit is millimeter unless said
        ('unit="millimeter"', "mm", 1.0),
        ('unit="micron"', "micron", 0.001),
        ('unit="centimeter"', "cm", 10.0),
        ('unit="inch"', "inch", 25.4),
        ('unit="foot"', "foot", 304.8),
        ('unit="meter"', "m", 1000.0),
    ],
)
def test_the_unit_of_the_model_counts(tmp_path: Path, attributes: str, unit: str, factor: float) -> None:
    solid = read(saved(tmp_path, hand.box_model(attributes)))
    assert (solid.source.unit_given, solid.source.unit_assumed) == (unit, unit)
    np.testing.assert_array_equal(solid.vertices, np.array(hand.BOX_POINTS) * factor)
    np.testing.assert_array_equal(solid.faces, hand.BOX_FACES)
    assert solid.source.unit_hint == ""


def test_the_wish_for_a_unit_wins_and_is_said(tmp_path: Path) -> None:
    solid = read(saved(tmp_path, hand.box_model('unit="inch"')), unit="cm")
    assert solid.source.unit_given == "cm"
    assert solid.bounds[1].tolist() == [20, 30, 50]
    assert solid.source.notes == ("The file says inch; it was read as cm, as asked.",)


def test_transforms_chain_from_component_to_item(tmp_path: Path) -> None:
    """Chapter "3D Matrices": row vectors, [x y z 1] times the 4 x 3 matrix. Here: turn by 90 degrees, move, grow."""
    components = '<components><component objectid="1" transform="0 1 0 -1 0 0 0 0 1 10 0 0"/></components>'
    model = model_xml(
        object_xml(1, hand.mesh_xml()) + object_xml(2, components),
        '<item objectid="2" transform="2 0 0 0 2 0 0 0 2 0 0 1"/>',
    )
    expected = [((-y + 10) * 2, x * 2, z * 2 + 1) for x, y, z in hand.BOX_POINTS]
    solid = read(saved(tmp_path, model))
    np.testing.assert_array_equal(solid.vertices, expected)
    assert solid.volume == pytest.approx(8 * hand.BOX_VOLUME)


def test_a_long_way_off_does_not_blur_the_turn_of_a_component(tmp_path: Path) -> None:
    """The linear parts are multiplied on their own: 0.1 far away is as exact as the coordinates there can be."""
    components = '<components><component objectid="1" transform="0.1 0 0 0 0.1 0 0 0 0.1 0 0 0"/></components>'
    objects = object_xml(1, hand.mesh_xml()) + object_xml(2, components)
    solid = read(saved(tmp_path, model_xml(objects, '<item objectid="2" transform="1 0 0 0 1 0 0 0 1 1e6 0 0"/>')))
    np.testing.assert_array_equal(solid.vertices[:, 1:], np.array(hand.BOX_POINTS)[:, 1:] * 0.1)
    np.testing.assert_array_equal(solid.vertices[:, 0], np.array(hand.BOX_POINTS)[:, 0] * 0.1 + 1e6)


def test_small_scales_are_not_singular(tmp_path: Path) -> None:
    item = '<item objectid="1" transform="1e-150 0 0 0 1e-3 0 0 0 1e-150 0 0 0"/>'
    assert len(read(saved(tmp_path, model_xml(object_xml(1, hand.mesh_xml()), item))).faces) == 12


@pytest.mark.parametrize("depth", [1, 2, 3])
def test_mirroring_does_not_turn_the_part_inside_out(tmp_path: Path, depth: int) -> None:
    """Chapter "3D Matrices": a transform with a negative determinant must not change the sign of the volume."""
    mirror = 'transform="-1 0 0 0 1 0 0 0 1 0 0 0"'
    objects = object_xml(1, hand.mesh_xml())
    for id_ in range(2, depth + 1):
        objects += object_xml(id_, f'<components><component objectid="{id_ - 1}" {mirror}/></components>')
    solid = read(saved(tmp_path, model_xml(objects, f'<item objectid="{depth}" {mirror}/>')))
    assert solid.volume == pytest.approx(hand.BOX_VOLUME)
    assert solid.bounds[0, 0] == (-2 if depth % 2 else 0)


def test_every_build_item_is_a_body_and_other_objects_are_not_printed(tmp_path: Path) -> None:
    objects = (
        object_xml(1, hand.mesh_xml(), 'name="bell &amp; buoy"')
        + object_xml(2, hand.mesh_xml(shift=50))
        + object_xml(3, hand.mesh_xml(shift=90), 'name="spare"')
    )
    items = f'{ITEM}<item objectid="2" partnumber="B-7"/><item objectid="1" transform="1 0 0 0 1 0 0 0 1 0 20 0"/>'
    solid = read(saved(tmp_path, model_xml(objects, items)))
    assert [(b.name, b.start, b.stop) for b in solid.bodies] == [
        ("bell & buoy", 0, 12),
        ("B-7", 12, 24),
        ("bell & buoy", 24, 36),
    ]
    assert solid.source.notes == ("3 build items form one part: bell & buoy, B-7, bell & buoy.",)
    assert solid.volume == pytest.approx(3 * hand.BOX_VOLUME)


def test_objects_that_touch_keep_their_own_vertices(tmp_path: Path) -> None:
    objects = object_xml(1, hand.mesh_xml()) + object_xml(2, hand.mesh_xml(shift=2))
    solid = read(saved(tmp_path, model_xml(objects, f'{ITEM}<item objectid="2"/>')))
    assert len(solid.vertices) == 16


def test_equal_vertices_within_a_mesh_are_joined(tmp_path: Path) -> None:
    soup = hand.box_soup().reshape(-1, 3).tolist()
    faces = np.arange(36).reshape(-1, 3).tolist()
    solid = read(saved(tmp_path, model_xml(object_xml(1, hand.mesh_xml(soup, faces)), ITEM)))
    assert len(solid.vertices) == 8


@pytest.mark.parametrize("kind", ["support", "surface", "other"])
def test_objects_that_are_no_model_are_left_out_and_said(tmp_path: Path, kind: str) -> None:
    objects = object_xml(1, hand.mesh_xml()) + object_xml(2, hand.mesh_xml(shift=9), f'type="{kind}" name="x"')
    solid = read(saved(tmp_path, model_xml(objects, f'{ITEM}<item objectid="2"/>')))
    assert len(solid.faces) == 12
    assert any(f"type '{kind}' in 'x' was left out" in note for note in solid.source.notes)
    refused(tmp_path, model_xml(objects, '<item objectid="2"/>'), rf"no triangles to print.*type '{kind}'")


def test_solid_supports_are_printed_and_said(tmp_path: Path) -> None:
    objects = object_xml(1, hand.mesh_xml(), 'type="solidsupport" name="props"')
    solid = read(saved(tmp_path, model_xml(objects, ITEM)))
    assert len(solid.faces) == 12
    assert any("'props' is marked as solid supports" in note for note in solid.source.notes)


@pytest.mark.parametrize(
    "rewrite",
    [
        lambda t: t.replace('"', "'"),
        lambda t: t.replace("<mesh>", "<!-- <vertices> --><mesh>"),
        lambda t: t.replace("/>", " />").replace(' v1="', '\n\tv1="'),
        lambda t: t.replace('v3="', 'pid="5" p1="0" v3="'),
        lambda t: t.replace("/></build>", "></item></build>").replace('"/>\n<triangle', '" pid="5"/>\n<triangle'),
        lambda t: (
            t.replace(f'xmlns="{hand.CORE}"', f'xmlns:c="{hand.CORE}"')
            .replace("<", "<c:")
            .replace("<c:/", "</c:")
            .replace("<c:?", "<?")
        ),
        lambda t: t.replace("UTF-8", "UTF-16").encode("utf-16"),
        lambda t: t.replace('x="0" y="0" z="5"', 'z="5" x="0" y="0"').replace('v1="4" v2="5"', 'v2="5" v1="4"'),
    ],
)
def test_any_way_to_write_the_same_xml_gives_the_same_part(tmp_path: Path, rewrite) -> None:  # type: ignore[no-untyped-def]
    solid = read(saved(tmp_path, rewrite(hand.box_model())))
    np.testing.assert_array_equal(solid.vertices, np.array(hand.BOX_POINTS, float))
    np.testing.assert_array_equal(solid.faces, hand.BOX_FACES)


def test_model_parts_in_other_files_of_the_container_are_followed(tmp_path: Path) -> None:
    """Production extension: the attribute "path" of a component or build item."""
    component = '<components><component objectid="7" p:path="/3D/Objects/Shell.model"/></components>'
    root = model_xml(
        object_xml(1, component), ITEM, f'requiredextensions="p" xmlns:p="{threemf_model.PRODUCTION}" unit="inch"'
    )
    other = model_xml(object_xml(7, hand.mesh_xml()), "", 'unit="inch"')
    assert read(saved(tmp_path, root, {"3D/objects/shell.model": other})).volume == pytest.approx(30 * 25.4**3)
    refused(tmp_path, root, "another unit", {"3D/Objects/Shell.model": other.replace("inch", "foot")})
    refused(tmp_path, root, "lacks the part /3D/Objects/Shell.model")


# Lines of the box model: vertices in 4 to 11 (those with z = 5 from 8 on), triangles in 13 to 24, the build in 26.
BROKEN = [
    (hand.box_model().replace('v3="7"', 'v3="8"'), "names vertex 9, but there are 8 vertices"),
    (hand.box_model().replace('v3="7"', 'v3="-1"'), "names vertex 0, but there are 8"),
    (hand.box_model().replace('v3="7"', 'v3="7.0"'), "triangles in the mesh of object 1: '7.0' is no number"),
    (hand.box_model().replace('z="5"', 'z="five"'), "vertices in the mesh of object 1: 'five' is no number"),
    (hand.box_model().replace('z="5"', 'z="INF"'), "vertex 5 has a coordinate that is no finite number"),
    (hand.box_model().replace('z="5"', ""), "line 8: <vertex> lacks 'z'"),
    (hand.box_model().replace("</build>", "</built>"), r"malformed in line 26 \(mismatched tag\)"),
    (hand.box_model().replace('z="5"/>', 'z="5">', 1), r"malformed in line 12 \(mismatched tag\)"),
    (hand.box_model()[:-60], "malformed in line 25"),
    (hand.box_model('unit="league"'), "the unit 'league' of the model is none of micron"),
    (hand.box_model().replace("<model", "<modell").replace("</model", "</modell"), "no 3MF core model"),
    (hand.box_model('requiredextensions="b" xmlns:b="http://lattice"'), "needs the 3MF extension http://lattice"),
    (model_xml(object_xml(1, hand.mesh_xml()), ""), "no build items"),
    (model_xml(object_xml(1, hand.mesh_xml()), '<item objectid="2"/>'), "object 2 is used but does not exist"),
    (model_xml(object_xml(1, hand.mesh_xml()), "<item/>"), "<item> lacks 'objectid'"),
    (model_xml(object_xml(1, hand.mesh_xml()) * 2, ITEM), "two objects with the id 1"),
    (model_xml(object_xml(1, hand.mesh_xml(), 'type="ghost"'), ITEM), "unknown type 'ghost'"),
    (model_xml(object_xml(1, hand.mesh_xml(hand.BOX_POINTS, [])), ITEM), "no triangles to print"),
    (model_xml(object_xml(1, '<components><component objectid="1"/></components>'), ITEM), "component of itself"),
    (hand.box_model().replace("<item ", '<item transform="1 0 0 0 1 0 0 0 1" '), "has 9 numbers instead of 12"),
    (hand.box_model().replace("<item ", '<item transform="1 0 0 0 1 0 0 0 0 0 0 0" '), "singular"),
    (hand.box_model().replace("<item ", '<item transform="1 2 3 4 5 6 7 8 9 0 0 0" '), "singular"),
    (hand.box_model().replace("<item ", '<item transform="1 0 0 0 nan 0 0 0 1 0 0 0" '), "singular"),
    (hand.box_model().replace("<item ", '<item transform="1e308 0 0 0 1 0 0 0 1 0 0 0" '), "no finite number"),
    (hand.box_model().replace("<item ", '<item transform="1 0 0 0 1 0 0 0 a 0 0 0" '), "transform of object 1: 'a'"),
]


@pytest.mark.parametrize(("model", "message"), BROKEN, ids=[message for _, message in BROKEN])
def test_damage_is_named(tmp_path: Path, model: str, message: str) -> None:
    refused(tmp_path, model, message)


@pytest.mark.parametrize("encoding", ["ATF-8", "utf-7", "gb2312", "shift_jis", "idna", "rot13", "hex"])
def test_encodings_beyond_unicode_are_refused(tmp_path: Path, encoding: str) -> None:
    refused(
        tmp_path, hand.box_model().replace("UTF-8", encoding), r"encoding that 3MF does not allow|malformed in line 1"
    )


def test_entities_are_never_unfolded(tmp_path: Path) -> None:
    entities = '<!DOCTYPE m [<!ENTITY a "1"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>'
    refused(tmp_path, hand.box_model().replace("<model", f"{entities}<model"), "DOCTYPE, which 3MF does not allow")


def test_components_that_multiply_without_end_are_refused_before_they_are_unfolded(tmp_path: Path) -> None:
    objects = object_xml(1, hand.mesh_xml())
    for id_ in range(2, 40):
        objects += object_xml(id_, f'<components>{f"""<component objectid="{id_ - 1}"/>""" * 4}</components>')
    refused(tmp_path, model_xml(objects, '<item objectid="39"/>'), "the components unfold to")


def test_a_zip_bomb_is_refused_by_its_declared_size(tmp_path: Path) -> None:
    bomb = hand.box_model().encode() + b" " * (70 << 20)
    refused(tmp_path, bomb, "would unfold from")


def test_a_broken_container_is_refused(tmp_path: Path) -> None:
    path = saved(tmp_path, hand.box_model())
    whole = path.read_bytes()
    start = whole.index(b"3D/part.model") + 60
    for damaged, message in (
        (whole[:-40], "container is broken or cut short"),
        (
            whole[:start] + b"\xff" * 40 + whole[start + 40 :],
            "part /3D/part.model of the 3MF container cannot be unpacked",
        ),
    ):
        path.write_bytes(damaged)
        with pytest.raises(FileReadError, match=message):
            read(path)


@pytest.mark.parametrize("flip", [0x01, 0x40, 0xFF])
def test_no_single_broken_byte_of_the_directory_crashes_the_reader(tmp_path: Path, flip: int) -> None:
    path = saved(tmp_path, hand.box_model())
    whole = path.read_bytes()
    for place in range(whole.index(b"PK\x01\x02"), len(whole)):
        path.write_bytes(whole[:place] + bytes([whole[place] ^ flip]) + whole[place + 1 :])
        try:
            solid = read(path)
        except FileReadError:
            continue
        assert len(solid.faces) == 12


def test_any_other_zip_is_no_3mf(tmp_path: Path) -> None:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as container:
        container.writestr("letter.txt", "hello")
    path = tmp_path / "letter.3mf"
    path.write_bytes(buffer.getvalue())
    with pytest.raises(FileReadError, match="this zip is no 3MF"):
        read(path)


def two_bodies(inner_outward: bool) -> Solid:
    points, faces = np.array(hand.BOX_POINTS, float), np.array(hand.BOX_FACES)
    inner = points * 0.5 + 0.5
    bodies = (Body('seal <"&\x07 pup', 0, 12), Body("core", 12, 24))
    turned = faces if inner_outward else faces[:, ::-1]
    source = Source(unit_given="inch", unit_assumed="inch", mm_per_unit=25.4)
    return Solid(np.concatenate([points, inner]) * 25.4, np.concatenate([faces, turned + 8]), bodies, source)


def test_names_unit_and_objects_survive_writing(tmp_path: Path) -> None:
    solid = two_bodies(inner_outward=True)
    write(solid, tmp_path / "out.3mf")
    again = read(tmp_path / "out.3mf")
    assert [(b.name, b.start, b.stop) for b in again.bodies] == [('seal <"& pup', 0, 12), ("core", 12, 24)]
    assert again.source.unit_given == "inch"
    np.testing.assert_array_equal(again.vertices, solid.vertices)
    np.testing.assert_array_equal(again.faces, solid.faces)
    text = zipfile.ZipFile(tmp_path / "out.3mf").read("3D/3dmodel.model").decode()
    assert '<vertex x="2.0" y="3.0" z="5.0"/>' in text


def test_a_cavity_that_is_a_body_of_its_own_is_written_into_the_same_object(tmp_path: Path) -> None:
    """The positive-fill rule works within an object; an object of negative volume alone would not be printed."""
    solid = two_bodies(inner_outward=False)
    write(solid, tmp_path / "out.3mf")
    again = read(tmp_path / "out.3mf")
    assert len(again.bodies) == 1
    np.testing.assert_array_equal(again.vertices[again.faces], solid.vertices[solid.faces])


def test_triangles_without_three_corners_are_not_written(tmp_path: Path) -> None:
    """Chapter "Triangles": the three indices of a triangle must be distinct."""
    solid = Solid(np.array(hand.BOX_POINTS, float), np.array([*hand.BOX_FACES, (1, 1, 2)]))
    write(solid, tmp_path / "out.3mf")
    assert len(read(tmp_path / "out.3mf").faces) == 12


def test_the_same_part_always_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("a.3mf", "b.3mf"):
        write(two_bodies(inner_outward=True), tmp_path / name)
    assert (tmp_path / "a.3mf").read_bytes() == (tmp_path / "b.3mf").read_bytes()
