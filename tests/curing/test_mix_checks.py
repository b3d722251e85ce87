"""A mix beside the trade's limits."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from curing.mix_checks import Check, Layer, Limits, Range, mix_checks, mix_notes
from curing.mixture import Mix, Recipe, normalise
from tests.curing.mixes import PREMIX, premix


def changed(name: str, amount: float) -> Mix:
    parts = (replace(c, amount=amount) if c.name == name else c for c in PREMIX.components)
    return normalise(Recipe(tuple(parts)))


@pytest.mark.parametrize(("layer", "fibre"), [("face", 0.0), ("backer", 0.025), ("rib", 0.035)])
def test_a_usual_mix_gets_no_note_but_every_limit(layer: Layer, fibre: float) -> None:
    assert mix_notes(premix(fibre), layer) == ()
    checks = mix_checks(premix(fibre), layer)
    assert [c.key for c in checks] == ["water", "polymer", "pozzolan", "pigment", f"fibre-{layer}"]
    assert all(c.usual.basis and c.usual.set_by for c in checks)


@pytest.mark.parametrize(
    ("name", "amount", "key"),
    [
        ("water", 0.29, "water-low"),
        ("water", 0.39, "water-high"),
        ("polymer", 0.03, "polymer-low"),
        ("polymer", 0.08, "polymer-high"),
        ("pozzolan", 10, "pozzolan-low"),
        ("pozzolan", 34, "pozzolan-high"),
        ("iron oxide", 0.11, "pigment-high"),
        ("glass fibre", 0.019, "fibre-backer-low"),
        ("glass fibre", 0.031, "fibre-backer-high"),
    ],
)
def test_what_is_unusual_is_named(name: str, amount: float, key: str) -> None:
    [note] = mix_notes(changed(name, amount), "backer")
    assert note.key == key
    low, value = key.endswith("low"), note.figures["value"]
    assert value < note.figures["least"] if low else value > note.figures["greatest"]
    assert f"{value:.3g}" in note.text
    assert "default of this program" in note.basis


@pytest.mark.parametrize(
    ("name", "amount"),
    [("water", 0.30), ("water", 0.38), ("iron oxide", 0.10), ("glass fibre", 0.02), ("pozzolan", 100 / 3)],
)  # fmt: skip
def test_a_limit_itself_is_within(name: str, amount: float) -> None:
    assert mix_notes(changed(name, amount), "backer") == ()


def test_fibre_in_the_face_and_too_little_in_the_ribs() -> None:
    assert [n.key for n in mix_notes(premix(0.025), "face")] == ["fibre-face-high"]
    assert [n.key for n in mix_notes(premix(0.025), "rib")] == ["fibre-rib-low"]


def test_water_is_judged_on_all_cementitious_and_both_ratios_are_told() -> None:
    [note] = mix_notes(changed("water", 0.39), "backer")
    assert note.figures["water_cementitious"] == pytest.approx(0.39)
    assert note.figures["water_cement"] == pytest.approx(0.39 * 1.2)


def test_the_shops_own_limit_and_who_set_it() -> None:
    own = replace(Limits(), water=Range(0.28, 0.33, "our cubes of spring", "the owner"))
    [note] = mix_notes(premix(), "backer", own)
    assert note.key == "water-high"
    assert note.basis == "our cubes of spring; the owner"


def test_refused() -> None:
    with pytest.raises(ValueError, match="least first"):
        Range(0.4, 0.3, "x")
    with pytest.raises(ValueError, match="least first"):
        Range(0.3, math.nan, "x")
    with pytest.raises(ValueError, match="no layer"):
        mix_checks(premix(), "middle")  # type: ignore[arg-type]
    check = Check("water", "w/cm", math.nan, Limits().water, ("", ""))
    assert not check.within
