"""What the command line says about suction."""

from __future__ import annotations

from pathlib import Path

import bodies
import pytest
from command_line import Runner

from ventplanner.io.profile_json import write_profile
from ventplanner.physics import ducts
from ventplanner.profile import Profile

pytestmark = pytest.mark.usefixtures("no_other_places")


@pytest.fixture(scope="module")
def bowl(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """20 x 20 mm inside, walls 2 mm, a hole of 2 mm in its floor, open towards the film."""
    part = bodies.cut(
        bodies.block((-12, -12, 0), (12, 12, 20)),
        bodies.block((-10, -10, 2), (10, 10, 21)),
        bodies.rod((0, 0, -1), (0, 0, 3), 1.0, 256),
    )
    path = tmp_path_factory.mktemp("bowl") / "bowl.stl"
    part.export(path)
    return path


def test_the_worked_cup_comes_out_of_the_command_line(run: Runner, bowl: Path) -> None:
    # 20 x 20 mm lifted at 1 mm/s, a hole of 2 x 2 mm, 0.3 Pa s: 971.155 Pa and inertia, 0.388 N and a little.
    flow = run("inspect", bowl, "--json").json["flow"]
    (cup,) = flow["cups"]
    by_hand = ducts.pressure_drop(4e-7, 2e-3, 2e-3, 0.3, 1100.0)
    assert (flow["viscosity_mpas"], flow["lift_speed_mm_min"], flow["lower_speed_mm_min"]) == (300.0, 60.0, 150.0)
    assert cup["peak_suction_pa"] == pytest.approx(by_hand, rel=0.01)
    assert cup["peak_force_n"] == pytest.approx(400e-6 * by_hand, rel=0.01)
    assert cup["peak_overpressure_pa"] == pytest.approx(ducts.pressure_drop(1e-6, 2e-3, 2e-3, 0.3, 1100.0), rel=0.01)
    assert not cup["capped"]


def test_viscosity_and_speeds_can_be_given(run: Runner, bowl: Path) -> None:
    plain = run("inspect", bowl, "--json").json["flow"]
    words = ("--viscosity", "600", "--lift-speed", "30", "--lower-speed", "60")
    given = run("inspect", bowl, "--json", *words).json["flow"]
    assert (given["viscosity_mpas"], given["lift_speed_mm_min"], given["lower_speed_mm_min"]) == (600.0, 30.0, 60.0)
    # Twice as thick and half as fast: as before, but for a little inertia.
    assert given["cups"][0]["peak_suction_pa"] == pytest.approx(plain["cups"][0]["peak_suction_pa"], rel=0.02)


def test_a_profile_is_read_and_single_options_go_before_it(run: Runner, bowl: Path, tmp_path: Path) -> None:
    bench = tmp_path / "bench.json"
    write_profile(bench, Profile("Bench 2", viscosity_mpas=150.0, lift_speed_mm_min=20.0))
    flow = run("inspect", bowl, "--json", "--profile", bench, "--lift-speed", "40").json["flow"]
    assert (flow["profile"], flow["viscosity_mpas"], flow["lift_speed_mm_min"]) == ("Bench 2", 150.0, 40.0)


def test_what_is_no_profile_or_no_speed_is_refused(run: Runner, bowl: Path, tmp_path: Path) -> None:
    (tmp_path / "bench.json").write_text("{}")
    refused = run("inspect", bowl, "--profile", tmp_path / "bench.json")
    assert refused.code == 2
    assert "bench.json is no profile" in refused.err
    assert run("inspect", bowl, "--lift-speed", "0").err.splitlines() == [
        "The lift speed cannot be 0 mm/min. Give 0.1 to 2000 mm/min (--lift-speed)."
    ]


def test_vents_relieve_what_sucked(
    run: Runner, parts: dict[str, Path], tmp_path: Path, coarse: tuple[str, str]
) -> None:
    flow = run("vent", parts["hollow_box"], "--out", tmp_path / "out.stl", "--json").json["flow"]
    before, after = flow["cups"][0], flow["cups_after"][0]
    assert (before["cavity"], before["cup"], before["capped"]) == ("A", "A1", True)
    assert before["peak_suction_pa"] == pytest.approx(101_325.0)
    assert (after["cavity"], after["cup"], after["capped"]) == ("A", "A1", False)
    assert after["peak_suction_pa"] < 2000.0
    # The written file, inspected on its own, says the same.
    again = run("inspect", tmp_path / "out.stl", "--json", *coarse).json["flow"]["cups"]
    assert again[0]["peak_suction_pa"] == pytest.approx(after["peak_suction_pa"], rel=0.1)


def test_what_the_limits_ask_of_each_vent_is_told(run: Runner, parts: dict[str, Path], tmp_path: Path) -> None:
    thick = ("--viscosity", "3000")
    report = run("vent", parts["hollow_box"], "--out", tmp_path / "out.stl", "--json", *thick).json
    sizes = report["flow"]["sizing"]
    assert [s["vent"] for s in sizes] == [v["id"] for v in report["vents"]]
    for size in sizes:
        asked = [n["diameter_mm"] for n in size["needs"]]
        assert asked == sorted(asked, reverse=True)
        assert size["binding"] == size["needs"][0]["condition"]
        assert size["asked_mm"] == pytest.approx(asked[0], abs=0.1)
        assert size["empties"]["advice"]
    # The one at the floor bears it all, until the one at the roof is printed.
    assert [s["binding"] for s in sizes] == ["overpressure", "prints open"]
    assert sizes[0]["needs"][0]["height_mm"] < 20.0


def test_vents_sized_by_need_keep_the_limits(run: Runner, parts: dict[str, Path], tmp_path: Path) -> None:
    thick = ("--viscosity", "3000", "--size", "need")
    report = run("vent", parts["hollow_box"], "--out", tmp_path / "out.stl", "--json", *thick).json
    limit = report["flow"]["suction_limit_pa"]
    for row in report["flow"]["cups_after"]:
        assert max(row["peak_suction_pa"], row["steady_overpressure_pa"]) <= 1.001 * limit
    first, second = report["vents"]
    assert first["diameter_mm"] == report["flow"]["sizing"][0]["asked_mm"] != 2.5
    assert "the way down presses" in first["reason"]
    assert second["diameter_mm"] == 2.0  # the usual least
    narrow = run(
        "vent", parts["hollow_box"], "--out", tmp_path / "two.stl", "--json", *thick, "--least-diameter", "1.2"
    ).json
    assert narrow["vents"][1]["diameter_mm"] == 1.2
    # Without being asked for it diameters stay as they are documented.
    plain = run("vent", parts["hollow_box"], "--out", tmp_path / "three.stl", "--json", *thick[:2]).json
    assert [v["diameter_mm"] for v in plain["vents"]] == [2.5, 2.5]


def test_how_to_set_the_printer_is_told(run: Runner, parts: dict[str, Path], tmp_path: Path) -> None:
    for report in (
        run("inspect", parts["hollow_box"], "--json").json,
        run("vent", parts["hollow_box"], "--out", tmp_path / "out.stl", "--json").json,
    ):
        told = {a["setting"]: a for a in report["flow"]["advice"]}
        assert list(told) == [
            "Lift speed", "Lowering speed", "Lift height", "Base-layer compensation", "Wait before the lift",
        ]  # fmt: skip
        assert all(a["why"] and a["value"] > 0.0 for a in told.values())
    fast = str(told["Lift speed"]["value"])
    again = run("vent", parts["hollow_box"], "--out", tmp_path / "fast.stl", "--json", "--lift-speed", fast).json
    assert again["flow"]["cups_after"][0]["peak_suction_pa"] == pytest.approx(5000.0, rel=0.01)


def test_the_words_name_the_cups_and_the_limit(run: Runner, parts: dict[str, Path], tmp_path: Path) -> None:
    text = run("inspect", parts["hollow_box"]).out
    assert "Suction as it is:" in text
    assert "A1 is closed: it pulls up to what the air can press (101 kPa)." in text
    assert "closed" in text
    well = run("vent", parts["hollow_box"], "--out", tmp_path / "out.stl").out
    assert "At the lift and going down all stay below the limit of 5 kPa." in well
    assert "Nothing is left to do." in well
    slow = run("vent", parts["hollow_box"], "--out", tmp_path / "thick.stl", "--viscosity", "9000")
    assert slow.code == 0  # an estimate is no fault of the part
    assert "going down; lift at" in slow.out
    assert "Nothing is left to do but what is said of the suction." in slow.out
    solid = run("inspect", parts["block"]).out
    assert "There is no hollow that sucks." in solid
