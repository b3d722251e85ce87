"""What handling asks of the concrete: loads, laws, ages and people."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import partial

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from structuralcodes.codes import ec2_2004

from curing.bending import GRAVITY, Load
from curing.handling import (
    Need,
    Rules,
    Way,
    demold_age,
    flat_by_its_ends,
    flat_on_two,
    flipped,
    lift,
    need,
    needs,
    on_edge,
    strength_aci318,
    strength_en1992,
    stripped_by_tilting,
    stripped_flat_by_its_ends,
    stripped_flat_on_two,
    stripping_load,
    usual_ways,
)
from curing.panel import Panel
from curing.strength import (
    EN1992,
    PLACEHOLDER,
    PSI,
    Hyperbolic,
    aci318_modulus_of_rupture,
    flexural_tensile,
    mean_tensile,
    tensile_at,
)
from tests.curing.test_bending import COUNTER
from tests.curing.test_sections import VANITY

WEIGHT = Load("weight")
RULES = Rules()


def named(found: tuple[Need, ...]) -> dict[str, Need]:
    return {one.way.name: one for one in found}


def test_the_worked_panel() -> None:
    """690, 120 and 20 psi under its weight alone, so 690 psi is never had and 20 at once."""
    ways = [flat_by_its_ends(WEIGHT), flat_on_two(WEIGHT), on_edge(WEIGHT)]
    ends, two, edge = needs(COUNTER, PLACEHOLDER, replace(RULES, rupture_factor=1.5), ways=ways)
    assert ends.peak.stress / PSI == pytest.approx(690, abs=5)
    assert two.peak.stress / PSI == pytest.approx(120, abs=5)
    assert edge.peak.stress / PSI == pytest.approx(20, abs=0.5)
    assert ends.strength / PSI == pytest.approx((1.5 * 693.33 / 7.5) ** 2, rel=1e-4)
    assert ends.age_hours == math.inf
    assert not ends.possible(1e9)
    assert 6 < edge.age_hours < two.age_hours < 12


def test_the_age_is_where_the_curve_has_the_strength() -> None:
    found = needs(COUNTER, PLACEHOLDER, RULES)
    for one in found:
        if math.isfinite(one.age_hours):
            assert float(PLACEHOLDER.at(one.age_hours)) == pytest.approx(one.strength)
            assert one.possible(one.age_hours)
            assert not one.possible(one.age_hours - 0.01)
        else:
            assert one.strength >= PLACEHOLDER.su
    assert sum(math.isfinite(one.age_hours) for one in found) == 6


def test_a_thin_piece_is_held_by_its_form_more_than_by_its_weight() -> None:
    """0.39 kPa and 1 kPa of bond exceed 1.3 × 0.39 kPa."""
    load = stripping_load(COUNTER)
    assert load.bond == 1000.0
    assert COUNTER.mass * GRAVITY / COUNTER.face_area == pytest.approx(389, abs=1)
    assert load.total(COUNTER) == pytest.approx(COUNTER.face_area * 1389, rel=1e-3)


def test_a_thick_piece_is_stripped_by_the_multiplier() -> None:
    thick = Panel(2.0, 0.6, 0.2)
    load = stripping_load(thick, 1.4)
    assert (load.factor, load.bond) == (1.4, 0.0)
    assert load.basis == "PCI 1.4 × weight"
    assert load.total(thick) == pytest.approx(1.4 * thick.mass * GRAVITY)


def test_tilting_out_spans_the_width() -> None:
    """q B² / 8 on a strip of the face: the length does not matter."""
    q = 0.75 * 0.0254 * COUNTER.density * GRAVITY + 1000
    expected = q * COUNTER.width**2 / 8 / (COUNTER.face**2 / 6) / 1e6
    way = stripped_by_tilting(stripping_load(COUNTER))
    for length in (1.0, COUNTER.length):
        found = need(replace(COUNTER, length=length), way, PLACEHOLDER, rupture_factor=1.0)
        assert found.peak.stress == pytest.approx(expected)


def test_the_worse_attitude_counts() -> None:
    """Ribs below: face down, tension at the shallow face; face up, at the ribs' feet."""
    way = flat_by_its_ends(WEIGHT)
    both = need(VANITY, way, PLACEHOLDER, rupture_factor=1.5)
    each = [
        need(VANITY, Way("", (carry,), WEIGHT), PLACEHOLDER, rupture_factor=1.5)
        for carry in way.carries
    ]
    assert both.strength == max(one.strength for one in each)
    assert both.carry.name == "face up"
    assert each[0].strength != pytest.approx(each[1].strength)


def test_the_usual_ways_carry_the_rules() -> None:
    rules = Rules(strip_multiplier=1.4, bond=0.0, yard=1.25, travel=1.6, share=0.2)
    ways = {way.name: way for way in usual_ways(VANITY, rules)}
    assert [name for name, way in ways.items() if way.strips] == [
        "stripped by tilting",
        "stripped flat at two places",
        "stripped flat by its ends",
    ]
    assert ways["stripped by tilting"].load.factor == 1.4
    assert ways["flipped"].load.factor == 1.25
    assert ways["travels on edge"].load.factor == 1.6
    assert {carry.share for carry in ways["flat on two supports"].carries} == {0.2}
    assert named(needs(VANITY, PLACEHOLDER, rules)).keys() == ways.keys()


def test_demold_waits_for_the_gentlest_stripping_and_for_the_floor() -> None:
    found = named(needs(COUNTER, PLACEHOLDER, RULES))
    tilting = found["stripped by tilting"].age_hours
    assert tilting < found["stripped flat at two places"].age_hours < math.inf
    every = tuple(found.values())
    assert demold_age(every, 0.0) == tilting
    assert demold_age(every, 16.0) == 16.0
    weak = Hyperbolic(su=0.5, k=0.03, t0=6.0)
    assert demold_age(needs(COUNTER, weak, RULES), 16.0) == math.inf


def test_demold_asks_for_a_way_of_stripping() -> None:
    with pytest.raises(ValueError, match="none of these ways strips"):
        demold_age(needs(COUNTER, PLACEHOLDER, RULES, ways=[on_edge(WEIGHT)]), 16.0)
    with pytest.raises(ValueError, match="floor_hours"):
        demold_age(needs(COUNTER, PLACEHOLDER, RULES), -1.0)


def test_aci_318_turned_round() -> None:
    """474 psi at 4000 psi, from memory of ACI 318-19, 19.2.3.1."""
    assert strength_aci318(474 * PSI) / PSI == pytest.approx(4000, rel=2e-3)


@given(psi=st.floats(100, 12_000), lightness=st.floats(0.75, 1.0))
def test_aci_318_there_and_back(psi: float, lightness: float) -> None:
    rupture = aci318_modulus_of_rupture(psi, lightness) * PSI
    assert strength_aci318(rupture, lightness=lightness) / PSI == pytest.approx(psi)


@pytest.mark.parametrize(
    ("fck", "fctm"), [(12, 1.6), (20, 2.2), (30, 2.9), (40, 3.5), (50, 4.1), (60, 4.4), (90, 5.0)]
)
def test_en_1992_at_28_days(fck: float, fctm: float) -> None:
    """Table 3.1 with 1.581 for 19 mm (equation 3.23) asks for the table's own fcm = fck + 8."""
    needed = strength_en1992(1.581 * fctm, 0.019, fck=fck)
    assert needed == pytest.approx(fck + 8, rel=0.05)
    exact = (1.6 - 0.019) * float(ec2_2004.fctm(fck))
    assert strength_en1992(exact, 0.019, fck=fck) == pytest.approx(fck + 8)


def test_en_1992_early() -> None:
    """Equation 3.4: half the tensile strength comes with half the mean strength before 28 d."""
    half = 0.5 * flexural_tensile(19.0, mean_tensile(40.0))
    assert strength_en1992(half, 0.019, fck=40.0) == pytest.approx(24.0)


@given(
    beta=st.floats(0.05, 1.25),
    thickness=st.floats(0.01, 1.0),
    fck=st.floats(12, 90),
)
def test_en_1992_there_and_back(beta: float, thickness: float, fck: float) -> None:
    alpha = 1.0 if beta <= 1 else 2 / 3
    rupture = flexural_tensile(1000 * thickness, tensile_at(beta, alpha, mean_tensile(fck)))
    assert strength_en1992(rupture, thickness, fck=fck) == pytest.approx(beta * (fck + 8))


def test_a_law_of_the_shops_choice_sets_the_age() -> None:
    curve = EN1992(48.0, 0.2)
    way = stripped_by_tilting(stripping_load(COUNTER))
    law = partial(strength_en1992, fck=40.0)
    found = need(COUNTER, way, curve, rupture_factor=1.5, strength_for=law)
    beta = found.rupture / flexural_tensile(19.05, mean_tensile(40.0))
    assert found.strength == pytest.approx(48.0 * beta)
    assert found.age_hours == pytest.approx(curve.age_at(48.0 * beta))


@settings(max_examples=30)
@given(factor=st.floats(1.0, 5.0), more=st.floats(0.0, 3.0))
def test_a_larger_factor_is_never_sooner(factor: float, more: float) -> None:
    way = flat_on_two(WEIGHT)
    once = need(COUNTER, way, PLACEHOLDER, rupture_factor=factor)
    again = need(COUNTER, way, PLACEHOLDER, rupture_factor=factor + more)
    assert again.age_hours >= once.age_hours
    assert again.peak == once.peak


@pytest.mark.parametrize("law", [strength_aci318, partial(strength_en1992, fck=40.0)])
@settings(max_examples=30)
@given(face=st.floats(0.01, 0.1), more=st.floats(0.0, 0.1))
def test_a_thicker_plain_panel_never_asks_for_more(law, face: float, more: float) -> None:
    thin, thick = Panel(2.4, 0.62, face), Panel(2.4, 0.62, face + more)
    ways = [
        stripped_flat_by_its_ends(Load("weight + bond", bond=1000.0)),
        stripped_flat_on_two(WEIGHT),
        flipped(WEIGHT),
        on_edge(WEIGHT),
    ]
    for way in ways:
        weak = need(thin, way, PLACEHOLDER, rupture_factor=1.5, strength_for=law)
        strong = need(thick, way, PLACEHOLDER, rupture_factor=1.5, strength_for=law)
        assert strong.strength <= weak.strength * (1 + 1e-9)


@pytest.mark.parametrize(
    ("mass", "people", "team"),
    [
        (22.68, 1, 22.68),
        (22.69, 2, 2 * 22.68 * 2 / 3),
        (62.7, 3, 3 * 22.68 / 2),
        (68.04, 3, 3 * 22.68 / 2),
        (80.0, 4, None),
    ],
)
def test_people_for_a_mass(mass: float, people: int, team: float | None) -> None:
    found = lift(mass)
    assert found.people == people
    assert found.each_kg == pytest.approx(mass / people)
    assert found.team_kg == (None if team is None else pytest.approx(team))


@given(mass=st.floats(0.1, 2000), person=st.floats(5, 60))
def test_no_person_bears_more_than_the_figure(mass: float, person: float) -> None:
    found = lift(mass, person)
    assert found.each_kg <= person * (1 + 1e-8)
    assert found.people == 1 or mass / (found.people - 1) > person


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: strength_aci318(-1.0), "rupture must be"),
        (lambda: strength_aci318(1.0, lightness=0.5), "0.75 to 1"),
        (lambda: strength_en1992(math.nan, 0.019, fck=40.0), "rupture must be"),
        (lambda: strength_en1992(1.0, 0.0, fck=40.0), "thickness"),
        (lambda: strength_en1992(1.0, 0.019, fck=95.0), "12 to 90"),
        (lambda: Rules(yard=0.9), "yard must be from 1 to 3"),
        (lambda: Rules(bond=math.nan), "bond must be from 0 to 20000"),
        (lambda: Rules(person_kg=0.0), "person_kg must be from 1 to 60"),
        (lambda: Rules(rupture_factor=0.9), "rupture_factor must be from 1 to 10"),
        (lambda: Rules(share=0.5), "share must be"),
        (lambda: Way("none", (), WEIGHT), "an attitude or more"),
        (
            lambda: need(COUNTER, on_edge(WEIGHT), PLACEHOLDER, rupture_factor=0.5),
            "rupture_factor must be 1 or above",
        ),
        (lambda: lift(0.0), "mass must be"),
        (lambda: lift(10.0, -1.0), "person_kg must be"),
    ],
)
def test_what_cannot_be_is_refused_by_name(make, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        make()
