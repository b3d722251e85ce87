"""`python -m curing fit tests.csv`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from curing.__main__ import main
from curing.strength import PLACEHOLDER, PSI

EXAMPLE = Path(__file__).parents[2] / "curing" / "examples" / "tests.csv"


def write(folder: Path, text: str) -> str:
    path = folder / "tests.csv"
    path.write_text(text, encoding="utf-8")
    return str(path)


def shown(capsys, *arguments: str) -> str:
    assert main(["fit", *arguments]) == 0
    return str(capsys.readouterr().out)


def data(capsys, *arguments: str) -> dict:
    return json.loads(shown(capsys, *arguments, "--json"))


def test_the_example_shows_both_curves_the_band_and_the_energy(capsys) -> None:
    text = shown(capsys, str(EXAMPLE))

    assert "hyperbolic: su" in text
    assert "exponential: su" in text
    assert "coupon, shown and not fitted" in text
    assert "90 % band" in text
    assert "Activation energy (ASTM C1074, Annex A1)" in text
    assert "2,500 psi (17.2 MPa)" in text
    assert "safe" not in text


def test_the_same_file_gives_the_same_answer(capsys) -> None:
    assert data(capsys, str(EXAMPLE)) == data(capsys, str(EXAMPLE))


def test_json_holds_the_curve_that_made_the_tests(tmp_path: Path, capsys) -> None:
    rows = "\n".join(f"{at / 24},{float(PLACEHOLDER.at(at)) / PSI}" for at in (8, 12, 24, 72, 168))
    found = data(capsys, write(tmp_path, f"days,psi\n{rows}\n"))
    hyperbolic = found["fits"][0]

    assert hyperbolic["su"] == pytest.approx(PLACEHOLDER.su, rel=1e-4)
    assert hyperbolic["k"] == pytest.approx(PLACEHOLDER.k, rel=1e-4)
    assert hyperbolic["t0"] == pytest.approx(6.0, abs=1e-3)
    assert found["better"] == "hyperbolic"
    assert found["label"] is None
    at_24 = next(row for row in found["strength"] if row["hours"] == 24)
    assert at_24["low"] < at_24["mpa"] < at_24["high"]


def test_two_tests_are_answered_with_the_placeholder(tmp_path: Path, capsys) -> None:
    file = write(tmp_path, "hours,mpa\n24,20\n48,30\n")
    found = data(capsys, file)

    assert found["label"] == "placeholder, not your concrete"
    assert found["missing"] == "fewer than three tests that count as compression"
    assert found["fits"] == []
    at_24 = next(row for row in found["strength"] if row["hours"] == 24)
    assert at_24["high"] == pytest.approx(1.3 * at_24["mpa"], rel=1e-3)
    assert "±30 %" in shown(capsys, file)


def test_degrees_and_the_energy_set_the_equivalent_age(tmp_path: Path, capsys) -> None:
    """The factor of ASTM C1074 at 10 °C, Q = 5000 K: 0.5475."""
    file = write(tmp_path, "age_hours,mpa,fahrenheit\n24,12,50\n24,20,\n72,30,68\n")
    tests = data(capsys, file, "--activation-energy", "41570")["tests"]

    assert [test["equivalent_age"] for test in tests] == pytest.approx(
        [24 * 0.5475, 24.0, 72.0], rel=1e-3
    )


def test_a_law_can_be_chosen_by_name(tmp_path: Path, capsys) -> None:
    file = write(tmp_path, "hours,mpa,kind\n24,20,cylinder\n48,4,Coupon\n72,31,\n")
    plain = data(capsys, file)
    chosen = data(capsys, file, "--cylinders", "en1992", "--coupons", "aci318")

    assert [test["compressive_mpa"] for test in plain["tests"]] == [20.0, None, 31.0]
    assert [test["compressive_mpa"] for test in chosen["tests"]] == pytest.approx(
        [25.0, 41.3, 31.0], abs=0.1
    )
    assert "table 3.1" in chosen["laws"]["cylinder"]["name"]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "give one of the columns 'hours' and 'days'"),
        ("hours,mpa\n", "no rows"),
        ("hours\n24\n", "give one of the columns 'mpa' and 'psi'"),
        ("hours,days,mpa\n1,1,1\n", "give one of the columns 'hours' and 'days'"),
        ("hours,age_hours,mpa\n1,1,1\n", "'age_hours' is there twice"),
        ("hours,mpa,slump\n1,1,1\n", "unknown column slump"),
        ("hours,mpa\n24,20\nsoon,30\n", "row 3: 'soon' is not an age"),
        ("hours,mpa\n24,\n", "row 2: '' is not a strength"),
        ("hours,mpa\n0,20\n", "row 2: '0' is not an age above 0"),
        ("hours,mpa\nnan,20\n", "row 2: 'nan' is not an age above 0"),
        ("hours,mpa\n24,-3\n", "row 2: '-3' is not a strength above 0"),
        ("hours,mpa\n24,3300\n", "is the unit right"),
        ("days,psi\n2000,3300\n", "is the unit right"),
        ("hours,mpa,celsius\n24,20,200\n", "is the unit right"),
        ("hours,mpa,celsius\n24,20,warm\n", "'warm' is not a temperature"),
        ("hours,mpa,kind\n24,20,prism\n", "no specimen 'prism'; there are: cube, cylinder, coupon"),
        ("hours,mpa\n24,20,5\n", "row 2: more values than the header"),
    ],
)
def test_bad_files_are_named_with_their_row(tmp_path: Path, capsys, text, message) -> None:
    assert main(["fit", write(tmp_path, text)]) == 2
    assert message in capsys.readouterr().err


def test_a_file_that_is_not_there_or_not_text(tmp_path: Path, capsys) -> None:
    (tmp_path / "press.csv").write_bytes(b"\xff\xfe\x00")

    assert main(["fit", str(tmp_path / "nowhere.csv")]) == 2
    assert main(["fit", str(tmp_path / "press.csv")]) == 2
    assert "nowhere.csv" in capsys.readouterr().err


def test_an_impossible_energy_is_refused(tmp_path: Path, capsys) -> None:
    file = write(tmp_path, "hours,mpa,celsius\n24,20,10\n")

    assert main(["fit", file, "--activation-energy", "-5"]) == 2
    assert "activation" in capsys.readouterr().err
