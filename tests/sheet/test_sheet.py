"""The sheet of a real job: its figures are those of the JSON, in every format."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass, replace
from html.parser import HTMLParser
from itertools import chain
from pathlib import Path
from typing import Any

import bodies as b
import numpy as np
import pypdfium2
import pytest
import trimesh

from ventplanner.app import draining, jobs
from ventplanner.app.bench_sheet import job_of, write_sheet, write_table
from ventplanner.draining.planning import drain
from ventplanner.errors import FileWriteError, ParameterError
from ventplanner.io import report as reporting
from ventplanner.profile import Profile
from ventplanner.progress import silent
from ventplanner.sheet import views
from ventplanner.sheet.compose import compose, state_of
from ventplanner.sheet.html import to_html
from ventplanner.sheet.model import Figures, Heading, Line, Sheet
from ventplanner.sheet.pdf import to_pdf
from ventplanner.sheet.vent_table import COLUMNS, to_csv


@dataclass(frozen=True, eq=False)
class Done:
    vented: jobs.Vented
    report: dict[str, Any]
    sheet: Sheet


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> Done:
    """Two hollows in a block, one beside the other; the name is one that the font has no letters for."""
    folder = tmp_path_factory.mktemp("sheet")
    block = b.cut(b.box((40, 20, 30)), b.box((14, 14, 24), (-10, 0, 0)), b.ball(6, (10, 0, 0)))
    part = folder / "燈塔 <1>.stl"
    block.export(part)
    vented = jobs.vent(jobs.wish(str(part)), str(folder / "out.stl"))
    left = tuple(chain(reporting.left_after(vented.plan, vented.exported.after), ("Look at <this> & that.",)))
    flows = (vented.flow, vented.flow_after, vented.flow_printed)
    more = (vented.demands, vented.advice)
    report = reporting.venting(
        vented.findings, vented.plan, vented.exported.after, left, True, flows, vented.printed, more
    )
    return Done(vented, report, compose(job_of(vented, report, Profile())))


def words(pdf: bytes) -> str:
    document = pypdfium2.PdfDocument(pdf)
    try:
        texts = []
        for page in document:
            text = page.get_textpage()
            texts.append(text.get_text_bounded())
            text.close()
            page.close()
        return re.sub(r"\s+", " ", " ".join(texts))
    finally:
        document.close()


class Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.tags: list[str] = []
        self.open: list[str] = []
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.links += [value or "" for name, value in attrs if name in ("href", "src")]
        if tag not in ("meta",):
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.links += [value or "" for name, value in attrs if name in ("href", "src")]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] != "style":
            self.texts.append(data)


def read_html(text: str) -> tuple[str, Reader]:
    reader = Reader()
    reader.feed(text)
    assert reader.open == []
    return re.sub(r"\s+", " ", " ".join(reader.texts)), reader


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_pdf_tells_what_the_json_tells(done: Done, paper: Any) -> None:
    made = to_pdf(done.sheet, paper)
    assert made == to_pdf(done.sheet, paper)
    told = words(made)
    check(told, done.report)
    document = pypdfium2.PdfDocument(made)
    sizes = {document.get_page_size(k) for k in range(len(document))}
    document.close()
    (size,) = sizes
    assert size == pytest.approx({"a4": (595.3, 841.9), "letter": (612.0, 792.0)}[paper], abs=0.1)  # ISO 216, ANSI A


def test_the_html_tells_what_the_json_tells_and_needs_nothing_else(done: Done) -> None:
    told, reader = read_html(to_html(done.sheet))
    check(told, done.report)
    assert reader.links
    assert all(link.startswith("data:image/png;base64,") for link in reader.links)
    figures = sum(len(block.figures) for block in done.sheet.blocks if isinstance(block, Figures))
    assert reader.tags.count("svg") == figures
    assert "Look at <this> & that." in told
    assert "燈塔 <1>.stl" in told


def check(told: str, report: dict[str, Any]) -> None:
    """Every figure of every vent, of every cup's suction, the state of every cavity, and what is left."""
    for vent, printed in zip(report["vents"], report["as_printed"]["vents"], strict=True):
        at = ", ".join(f"{x:.1f}" for x in np.round(vent["entry_mm"], 1) + 0.0)
        row = f"{vent['id']} {vent['kind']} {vent['cavity']} {vent['diameter_mm']:g} mm {printed['printed_mm']:.1f} mm"
        assert f"{row} {vent['wall_mm']:.1f} mm" in told
        assert f"({at})" in told
    for cup in report["flow"]["cups_after"]:
        assert f"{cup['peak_force_n']:.1f} N" in told
    for advice in report["flow"]["advice"]:
        assert advice["figure"] in told
    for cavity in report["cavities_after"]:
        assert re.search(rf"\b{cavity['id']} \d[\d.]* m(L|m³) sealed breathing", told)
    assert f"{len(report['vents'])} holes drilled, written and verified: out.stl. 1 thing is left to do." in told
    assert "SHA-256" in told
    for caution in ("nitrile gloves", "safety data sheet", "Leave the vents open"):
        assert caution in told


def test_the_pour_plan_is_that_of_the_job_drain(done: Done) -> None:
    told = words(to_pdf(done.sheet))
    part = draining.told(
        done.vented.findings, done.vented.plan, drain(done.vented.findings, done.vented.plan, Profile(), silent)
    )
    assert len(part.moves) >= 2
    for n, text in enumerate(part.moves, start=1):
        assert f"{n}. {text}" in told
    assert f"Stays in pools: {draining.ml(part.done.left)}." in told
    for row in draining.inside_rows(done.vented.findings, part.done, part.reached):
        assert all(cell in told for cell in row)
    assert all(warning in told for warning in draining.warnings(done.vented.findings, part.done, part.reached))
    poses = [f for block in done.sheet.blocks if isinstance(block, Figures) for f in block.figures if "held" in f.told]
    assert [f.caption.partition(",")[0] for f in poses] == [f"Step {n}" for n in range(1, len(part.moves) + 1)]
    plates = [any(isinstance(s, Line) and s.width == views.PLATE_MM for s in f.shapes) for f in poses]
    assert plates == [step.how == "hanging" for step in part.done.steps]


def test_the_first_line_points_to_what_is_said_of_the_suction(done: Done) -> None:
    job = job_of(done.vented, done.report, Profile())
    for said, end in ((["A1 sucks."], "Nothing is left to do but what is said of the suction."), ([], "left to do.")):
        flow = {**done.report["flow"], "remarks": said}
        assert state_of(replace(job, report={**done.report, "left": [], "flow": flow})).endswith(end)
    assert job.pour is not None
    shut = replace(job, report={**done.report, "left": []}, pour=replace(job.pour, warnings=("A keeps liquid resin.",)))
    assert state_of(shut).endswith("but what is said of the draining.")


def test_the_digest_is_that_of_the_written_file(done: Done) -> None:
    import hashlib

    digest = hashlib.sha256(done.vented.exported.path.read_bytes()).hexdigest()
    assert digest in words(to_pdf(done.sheet)).replace(" ", "")


def test_the_table_comes_back_as_it_was(done: Done) -> None:
    rows = list(csv.DictReader(io.StringIO(to_csv(done.report), newline="")))
    assert tuple(rows[0]) == COLUMNS
    for row, vent, printed in zip(rows, done.report["vents"], done.report["as_printed"]["vents"], strict=True):
        assert [float(row[k]) for k in ("x_mm", "y_mm", "z_mm")] == vent["entry_mm"]
        assert [float(row[k]) for k in ("axis_x", "axis_y", "axis_z")] == vent["axis"]
        assert float(row["diameter_mm"]) == vent["diameter_mm"]
        assert float(row["printed_mm"]) == printed["printed_mm"]
        assert row["reason"] == vent["reason"]
        upright = abs(float(np.dot(vent["axis"], done.report["pose"]["to_plate"])))
        assert float(row["tilt_deg"]) == pytest.approx(np.degrees(np.arccos(min(upright, 1.0))), abs=0.06)


def test_a_mouth_is_shown_from_the_sides_that_see_it(done: Done) -> None:
    scene = done.vented.exported.after.scene
    middle = 0.5 * (scene.vertices.min(axis=0) + scene.vertices.max(axis=0))
    front = views.Mouth("F", middle + np.array([0.0, -10.0, 0.0]), np.array([0.0, -1.0, 0.0]))
    top = views.Mouth("T", middle + np.array([0.0, 0.0, 15.0]), np.array([0.0, 0.0, 1.0]))
    within = views.Mouth("W", middle + np.array([10.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0]))
    figures = views.sides(scene, (front, top, within), 80.0, 60.0)
    shown = {f.caption: f.told for f in figures}
    assert len(figures) == 2
    assert any("holes F are seen" in told for told in shown.values())
    assert "holes T are seen" in shown["The side away from the plate"]
    assert not any("W" in told for told in shown.values())
    alone = [f.caption for f in views.sides(scene, (top,), 80.0, 60.0)]
    assert alone == ["From the front", "The side away from the plate"]  # by which the part is recognised


def test_a_mouth_behind_a_rail_is_shown_from_above(done: Done) -> None:
    scene = done.vented.exported.after.scene
    above = np.array([0.0, -0.6, 0.8])  # no level look and none from straight above meets its skin steeply enough
    steep = views.Mouth("S", scene.vertices.max(axis=0) + 5.0, above)
    assert "holes S are seen" in views.sides(scene, (steep,), 80.0, 60.0)[0].told
    below = views.Mouth("B", 0.5 * (scene.vertices.min(axis=0) + scene.vertices.max(axis=0)), np.array([0, 0, -1.0]))
    low = replace(below, at=np.array([*below.at[:2], float(scene.vertices[:, 2].min())]))
    pose = views.held(scene, (low,), done.vented.findings.scene.frame, (0.0, 0.0, -1.0), frozenset("B"), (40, 40), "1")
    assert pose.caption == "1, a little from below"


def test_a_part_without_hollows_is_told_so(tmp_path: Path) -> None:
    part = tmp_path / "Łódź,\n Πειραιάς \udcff.stl"  # a line break, and a byte that is no letter
    b.box((20, 30, 10)).export(part)
    vented = jobs.vent(jobs.wish(str(part)), str(tmp_path / "out.stl"))
    flows = (vented.flow, vented.flow_after, vented.flow_printed)
    report = reporting.venting(
        vented.findings, vented.plan, vented.exported.after, (), True, flows, vented.printed, (vented.demands, ())
    )
    sheet = compose(job_of(vented, report, Profile()))
    told = words(to_pdf(sheet, "letter"))
    for text in (
        *("Vents of Łódź, Πειραιάς ?.stl", "No hole drilled; written and verified: out.stl.", "No hole was drilled."),
        *("Nothing is sealed off at any height.", "There is no hollow to drain.", "page 1 of 2"),
    ):
        assert text in told
    assert not {"Drain", "Before and after", "Where the vents are"} & {
        block.text for block in sheet.blocks if isinstance(block, Heading)
    }


def test_the_sheet_tells_the_same_lengths_in_inches(done: Done) -> None:
    told = words(to_pdf(compose(job_of(done.vented, done.report, Profile()), "inch"), "letter"))
    low, high = done.report["part"]["bounds_mm"]
    size = " × ".join(f"{round(b - a, 1) / 25.4:.3f}" for a, b in zip(low, high, strict=True))
    assert f"{size} in, " in told
    for vent in done.report["vents"]:
        at = ", ".join(f"{round(round(x, 1) / 25.4, 3) + 0.0:.3f}" for x in vent["entry_mm"])
        assert f"({at})" in told
        assert f"{vent['id']}: {vent['diameter_mm'] / 25.4:.3f} in wide, wall {vent['wall_mm'] / 25.4:.3f} in" in told
    for text in ("Places are x, y, z of the file in inches", "build height, in", "0.2 in"):
        assert text in told
    most = max(done.report["sealed_area"]["area_mm2"]) / 25.4**2
    assert f"Sealed area: at most {most:.3g} in²" in told
    assert not re.search(r"\d mm[²³]?(?!/)", told)
    for cavity in done.report["cavities"]:  # volumes as they are poured
        volume = re.search(rf"\b{cavity['id']} ([\d.]+) mL sealed breathing", told)
        assert volume is not None
        assert 1000.0 * float(volume[1]) == pytest.approx(cavity["volume_mm3"], rel=0.03)


def test_names_of_other_kinds_and_files_that_are_there_are_refused(done: Done, tmp_path: Path) -> None:
    job = job_of(done.vented, done.report, Profile())
    with pytest.raises(ParameterError, match=r"\.pdf or \.html"):
        write_sheet(job, tmp_path / "sheet.docx")
    with pytest.raises(ParameterError, match=r"\.csv"):
        write_table(done.report, tmp_path / "table.txt")
    write_table(done.report, tmp_path / "table.csv")
    with pytest.raises(FileWriteError):
        write_table(done.report, tmp_path / "table.csv")
    write_sheet(job, tmp_path / "sheet.HTML")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["sheet.HTML", "table.csv"]


def test_the_command_writes_both_beside_the_part(tmp_path: Path) -> None:
    from command_line import run_here

    trimesh.util.concatenate([b.box(20), b.inward(b.box(14))]).export(tmp_path / "float.stl")
    files = {name: tmp_path / name for name in ("out.stl", "sheet.pdf", "vents.csv")}
    asked = ("vent", tmp_path / "float.stl", "--out", files["out.stl"], "--json", "--table", files["vents.csv"])
    done = run_here(*asked, "--sheet", files["sheet.pdf"], "--paper", "Letter")
    assert done.code == 0
    rows = csv.DictReader(io.StringIO(files["vents.csv"].read_text(), newline=""))
    assert [row["id"] for row in rows] == [vent["id"] for vent in done.json["vents"]]
    assert "Vents of float.stl" in words(files["sheet.pdf"].read_bytes())
    before = {path: path.read_bytes() for path in files.values()}
    again = run_here(*asked, "--overwrite", "--sheet", tmp_path / "sheet.doc")
    assert (again.code, "pdf" in again.err) == (2, True)
    again = run_here("vent", tmp_path / "float.stl", "--out", tmp_path / "new.stl", "--sheet", files["sheet.pdf"])
    assert (again.code, "--overwrite" in again.err) == (2, True)
    again = run_here(*asked, "--overwrite", "--lengths", "inch")
    assert (again.code, "--sheet" in again.err) == (2, True)
    again = run_here(*asked, "--overwrite", "--paper", "a4")
    assert (again.code, "--sheet" in again.err) == (2, True)
    assert {path: path.read_bytes() for path in files.values()} == before
    assert not (tmp_path / "new.stl").exists()
