"""What was really weighed, against the sheet."""

from __future__ import annotations

import math
from typing import Any

import pytest

from curing.mix_checks import mix_notes
from curing.weigh_record import Record, record_weighed
from curing.weigh_sheet import Load, Sheet, weigh_sheet
from curing.yield_check import density_check
from tests.curing.mixes import premix

SHEET = weigh_sheet(
    [Load("face", premix(0.0), 12.0), Load("backer", premix(0.025), 55.0)], {"sand": 0.04}
)


def as_written(sheet: Sheet = SHEET, **changed: float) -> dict[str, float]:
    found = {line.key: line.weigh_kg for line in sheet.lines}
    for key, kg in changed.items():
        found[key.replace("_", " ")] = kg
    return found


def keys(record: Record) -> list[str]:
    return [note.key for note in record.notes]


def test_weighed_as_written() -> None:
    record = record_weighed(SHEET, as_written())
    assert record.notes == ()
    assert all(w.within for w in record.weighings)
    assert record.total_kg == pytest.approx(SHEET.weigh_kg)
    assert record.ratios == pytest.approx({k: r.rounded for k, r in SHEET.ratios.items()})
    assert record.yield_m3 is None


def test_the_edge_of_the_tolerance() -> None:
    cement = next(line for line in SHEET.lines if line.key == "white cement")
    assert cement.tolerance_kg == pytest.approx(0.01 * cement.exact_kg)
    for share, expected in ((0.0099, []), (-0.0099, []), (0.0101, ["weighed-off"]), (-0.0101, ["weighed-off"])):  # fmt: skip
        record = record_weighed(SHEET, as_written(white_cement=cement.exact_kg * (1 + share)))
        assert keys(record) == expected
        for note in record.notes:
            assert note.figures["deviation"] == pytest.approx(share)
            assert ("over" if share > 0 else "under") in note.text
            assert "C94" in note.basis


def test_new_water_ratio_by_hand() -> None:
    """Half a kilogram less cement and a litre added later, by plain sums."""
    kg = as_written()
    kg["white cement"] -= 0.5
    record = record_weighed(SHEET, kg, added_water_kg=1.0)
    water = 1.0 + kg["water"] + 0.54 * kg["polymer"] + 0.70 * kg["plasticizer"]
    water += kg["sand"] * (0.04 - 0.007) / 1.04
    assert record.ratios["water_cement"] == pytest.approx(water / kg["white cement"])
    together = kg["white cement"] + kg["pozzolan"]
    assert record.ratios["water_cementitious"] == pytest.approx(water / together)
    assert record.ratios["water_cementitious"] > 0.37
    assert record.total_kg == pytest.approx(sum(kg.values()) + 1.0)
    assert keys(record) == ["weighed-off", "water-added"]
    added = record.notes[-1]
    assert added.figures["before"] == pytest.approx(0.34)
    assert f"{water / together:.3f}" in added.text
    # A litre in 65.6 kg of matrix thins the backer's fibre by as much.
    fibre = kg["glass fibre, backer"]
    matrix = sum(v for k, v in kg.items() if not k.startswith("glass")) + 1.0
    take = 53.625 / 65.625
    assert record.ratios["fibre_backer"] == pytest.approx(fibre / (fibre + matrix * take))


def test_the_mix_that_was_made_goes_through_every_check() -> None:
    """`mix_of` and the ratios are reckoned apart, and agree."""
    record = record_weighed(SHEET, as_written(water=SHEET.lines[0].weigh_kg + 2.5), 0.4)
    mix = record.mix_of("backer")
    assert sum(mix.kg) == pytest.approx(1)
    for name, value in (
        ("water_cement", mix.water_cement),
        ("water_cementitious", mix.water_cementitious),
        ("polymer", mix.polymer),
        ("pozzolan", mix.pozzolan),
        ("pigment", mix.pigment),
        ("fibre_backer", mix.fibre),
    ):
        assert record.ratios[name] == pytest.approx(value)
    assert record.mix_of("face").fibre == 0
    assert [note.key for note in mix_notes(mix, "backer")] == ["water-high"]
    # More water than the recipe's is lighter without air.
    assert density_check(mix, 2080).air_free < density_check(premix(), 2080).air_free
    with pytest.raises(ValueError, match="makes no rib"):
        record.mix_of("rib")


def test_yield_and_what_it_falls_short_of() -> None:
    """67 kg at 2,080 kg/m³ are 32.2 L."""
    record = record_weighed(SHEET, as_written(), measured=2080, needed_m3=0.0322)
    assert record.yield_m3 == pytest.approx(SHEET.weigh_kg / 2080)
    assert record.yield_m3 == pytest.approx(0.0322, abs=5e-5)
    assert keys(record) == []
    short = record_weighed(SHEET, as_written(), measured=2140, needed_m3=0.0322)
    assert keys(short) == ["short-yield"]
    assert short.notes[0].figures["yield_m3"] == pytest.approx(SHEET.weigh_kg / 2140)


def test_what_was_not_written_down_is_said() -> None:
    kg = as_written()
    del kg["sand"], kg["pozzolan"]
    record = record_weighed(SHEET, kg)
    assert keys(record) == ["not-weighed"]
    assert record.notes[0].figures["lines"] == 2
    assert "sand" in record.notes[0].text
    missing = next(w for w in record.weighings if w.line.key == "sand")
    assert (missing.kg, missing.deviation_kg, missing.deviation, missing.within) == (None,) * 4
    assert record.total_kg == pytest.approx(SHEET.weigh_kg)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"weighed": {"lime": 1.0}}, "not on this sheet"),
        ({"weighed": {"sand": math.nan}}, "sand: a weight"),
        ({"weighed": {"sand": -1.0}}, "sand: a weight"),
        ({"weighed": {"white cement": 0.0}}, "no cement"),
        ({"added_water_kg": math.nan}, "added water"),
        ({"measured": math.nan}, "measured"),
        ({"needed_m3": 0.0}, "needed volume"),
    ],
)
def test_refused(change: dict[str, Any], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        record_weighed(SHEET, **{"weighed": as_written(), **change})
