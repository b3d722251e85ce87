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
    last = capsys.readouterr().out.strip().splitlines()[-1].split()
    assert last[:3] == ["20", "20.0", "300.0"]


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
    ],
)
def test_a_faulty_case_is_named(tmp_path: Path, capsys, change, message) -> None:
    text = EXAMPLE.read_text(encoding="utf-8")
    assert change[0] in text

    assert main(["timeline", write(tmp_path, text.replace(*change, 1), "case.toml")]) == 2
    assert message in capsys.readouterr().err
