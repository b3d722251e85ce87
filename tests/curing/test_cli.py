"""The engine from a shell."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from curing.__main__ import main

EXAMPLE = Path(__file__).parents[2] / "curing" / "examples" / "case.toml"


def write(folder: Path, text: str, name: str = "readings.csv") -> str:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_age_prints_factor_and_equivalent_age(tmp_path: Path, capsys) -> None:
    """ASTM C1074: 300 °C·h above -10 °C for 10 h at -15 °C, then 10 h at 20 °C."""
    file = write(tmp_path, "hours,celsius\n0,-15\n10,-15\n10,20\n20,20\n")

    assert main(["age", file, "--datum", "-10"]) == 0
    told = capsys.readouterr()
    last = told.out.strip().splitlines()[-1].split()
    assert last[:3] == ["20", "20.0", "300.0"]
    assert "-15 °C is below the 0 °C" in told.err


def test_air_beyond_the_law_is_told_apart_from_the_figures(tmp_path: Path, capsys) -> None:
    file = write(tmp_path, "hours,celsius\n0,20\n1,45\n")
    main(["age", file, "--json"])
    told = capsys.readouterr()
    notes = json.loads(told.out)["notes"]

    assert [note["key"] for note in notes] == ["hot"]
    assert "C1074" in notes[0]["basis"]
    assert told.err == ""


def test_age_as_json_with_options(tmp_path: Path, capsys) -> None:
    file = write(tmp_path, "hours;celsius\n0;10\n".replace(";", ",") + "16,10\n")
    main(["age", file, "--json", "--activation-energy", "41570", "--reference", "20"])
    data = json.loads(capsys.readouterr().out)

    assert data["rows"][-1]["equivalent_age"] == pytest.approx(16 * 0.5475, abs=1e-3)
    assert data["activation_energy"] == 41570


def test_a_daylight_saving_night_counts_its_real_hours(tmp_path: Path, capsys) -> None:
    """18:00 to 6:00 over the spring change of a US shop are 11 hours."""
    file = write(
        tmp_path, "time,celsius\n2026-03-07T18:00:00-06:00,20\n2026-03-08T06:00:00-05:00,20\n"
    )
    main(["age", file, "--json"])

    assert json.loads(capsys.readouterr().out)["rows"][-1]["equivalent_age"] == 11.0


def test_a_night_the_clocks_go_back_is_an_hour_longer(tmp_path: Path, capsys) -> None:
    """18:00 to 6:00 over the autumn change in New York are 13 hours; 1:30 comes twice."""
    file = write(
        tmp_path,
        "time,celsius\n2026-10-31T18:00:00-04:00,20\n2026-11-01T01:30:00-04:00,20\n"
        "2026-11-01T01:30:00-05:00,20\n2026-11-01T06:00:00-05:00,20\n",
    )
    main(["age", file, "--json"])
    rows = json.loads(capsys.readouterr().out)["rows"]

    assert [row["equivalent_age"] for row in rows] == [0.0, 7.5, 8.5, 13.0]
    assert rows[-1]["temperature_time_factor"] == 260.0


def test_a_case_over_a_night_the_clocks_change_keeps_elapsed_hours(tmp_path: Path, capsys) -> None:
    """Cast on Saturday 18:00 before the spring change: 16 elapsed hours later it is 11:00, and on
    Monday work starts at 7:00 of the new clock."""
    text = """
        cast = 2026-03-07T18:00:00-05:00
        zone = "America/New_York"
        [air]
        planned_celsius = 20.0
        [hours]
        mon = ["07:00-15:00"]
        [[steps]]
        key = "cast"
        name = "cast"
        [[steps]]
        key = "demold"
        name = "demold"
        since_cast_hours = 16.0
    """
    main(["timeline", write(tmp_path, text, "case.toml"), "--json"])
    demold = json.loads(capsys.readouterr().out)[1]

    assert demold["earliest"] == "2026-03-08T11:00:00-04:00"
    assert demold["workable"] == "2026-03-09T07:00:00-04:00"


def test_fahrenheit_is_converted(tmp_path: Path, capsys) -> None:
    file = write(tmp_path, "hours,fahrenheit\n0,68\n5,68\n")
    main(["age", file, "--json"])

    assert json.loads(capsys.readouterr().out)["rows"][-1]["equivalent_age"] == 5.0


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("hours,celsius,kelvin\n0,1,2\n", "unknown column kelvin"),
        ("hours,celsius\n", "no rows"),
        ("time,celsius\n2026-03-07T18:00:00,20\n", "row 2: '2026-03-07T18:00:00' has no time zone"),
        ("hours,celsius\n0,20\n2,20\n1,20\n", "row 4: time runs back"),
        ("hours,celsius\n0,20\nlater,20\n", "row 3: 'later' is not a time"),
        ("hours,celsius\n0,warm\n", "row 2: 'warm' is not a temperature"),
        ("hours,celsius\n0,480\n", "is the unit right"),
        ("hours,celsius\n0,nan\n", "not a temperature"),
        ("hours,celsius\n0,20\n\n1,20,5\n", "row 4: more values than the header"),
        ("hours\n0\n", "one of the columns 'celsius'"),
        ("hours,time,celsius\n0,0,1\n", "one of the columns 'time'"),
    ],
)
def test_bad_files_are_named_with_their_row(tmp_path: Path, capsys, text, message) -> None:
    assert main(["age", write(tmp_path, text)]) == 2
    assert message in capsys.readouterr().err


def test_a_file_that_is_not_there(capsys) -> None:
    assert main(["age", "nowhere.csv"]) == 2
    assert "nowhere.csv" in capsys.readouterr().err


def test_the_example_case_runs_as_a_program() -> None:
    shown = subprocess.run(
        [sys.executable, "-m", "curing", "timeline", str(EXAMPLE)],
        capture_output=True,
        text=True,
        check=True,
    ).stdout

    assert "strength for handling (17.2 MPa)" in shown
    assert "sealer cure before handling" in shown
    assert "An estimate" in shown


def test_the_example_case_as_json(capsys) -> None:
    main(["timeline", str(EXAMPLE), "--json"])
    steps = {step["step"]: step for step in json.loads(capsys.readouterr().out)}

    assert steps["cast"]["done"]
    assert steps["demold"]["governs"] == "strength"
    assert steps["demold"]["earliest"] >= "2026-03-04T06:00:00-06:00"
    assert steps["deliver"]["workable"] is not None


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (("cast = 2026-03-03T14:00:00-06:00", "cast = 2026-03-03T14:00:00"), "with its zone"),
        (('curve = "hyperbolic"', 'curve = "straight"'), "no curve 'straight'"),
        (("recoat_least", "recoat_fewest"), "sealer: unknown recoat_fewest"),
        (('mon = ["07', 'mun = ["07'), "unknown day mun"),
        (("planned_celsius = 19.0", ""), "planned_celsius is missing"),
        (("[mix]", "[mix"), "case.toml"),
        (("su = 62.05", "su = -1"), "su must be"),
        (('zone = "America/Chicago"', 'zone = "Mars/Olympus"'), "no time zone 'Mars/Olympus'"),
        (('"07:00-12:00"', '"12:00-07:00"'), "must end after it starts"),
        (('"07:00-12:00"', '"seven to noon"'), "not a stretch"),
        (("[done]\ncast", "[done]\ncasting"), "no step has the key casting"),
    ],
)
def test_a_faulty_case_is_named(tmp_path: Path, capsys, change, message) -> None:
    text = EXAMPLE.read_text(encoding="utf-8")
    assert change[0] in text

    assert main(["timeline", write(tmp_path, text.replace(*change, 1), "case.toml")]) == 2
    assert message in capsys.readouterr().err


def test_a_reader_who_wants_only_the_beginning_is_no_fault(tmp_path: Path) -> None:
    rows = "".join(f"{hour},20\n" for hour in range(20_000))
    file = write(tmp_path, "hours,celsius\n" + rows)
    program = f"{sys.executable} -m curing age {file} | head -n 1"
    ended = subprocess.run(
        ["bash", "-o", "pipefail", "-c", program], capture_output=True, text=True, check=False
    )

    assert ended.stderr == ""
    assert ended.returncode == 0


def test_the_timeline_prints_the_range_of_each_step(capsys: pytest.CaptureFixture[str]) -> None:
    main(["timeline", str(EXAMPLE), "--json"])
    steps = json.loads(capsys.readouterr().out)
    for step in steps:
        assert step["early"] <= step["likely"] <= step["late"]
    demold = next(step for step in steps if step["step"] == "demold")
    assert demold["early"] < demold["workable"] <= demold["late"]


def test_the_range_is_as_wide_as_the_doubt(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sure = "[doubt]\nair_sd = 0.0\ncurve = 0.0\nlabour = 0.0\ndrying = [1.0, 1.0]\n\n"
    text = EXAMPLE.read_text(encoding="utf-8")
    head, _, rest = text.partition("[doubt]")
    text = head + sure + rest[rest.index("[done]") :]
    main(["timeline", write(tmp_path, text, "case.toml"), "--json"])
    for step in json.loads(capsys.readouterr().out):
        assert step["early"] == step["late"] == step["workable"]


def test_a_slab_dries_by_the_model_from_a_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = EXAMPLE.read_text(encoding="utf-8")
    changed = text.replace("drying_hours = 48.0", "dries = { thickness = 0.019, target = 0.85 }", 1)
    assert changed != text
    main(["timeline", write(tmp_path, changed, "case.toml"), "--json"])
    steps = {step["step"]: step for step in json.loads(capsys.readouterr().out)}
    criteria = [wait["criterion"] for step in steps.values() for wait in step["waits"]]
    assert "moisture" in criteria


def test_coverage_is_printed_by_a_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["coverage", "--cases", "2"]) == 0
    out = capsys.readouterr().out
    assert "2 simulated shops, people at work round the clock" in out
    assert out.count("the 90 % time") == 2
