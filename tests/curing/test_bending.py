"""Bending of a piece on two supports, against closed forms, a frame and a section library."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curing.bending import GRAVITY, Beam, Carry, Load, carried_beam, peak_tension
from curing.panel import Along, Cutout, Edge, Panel, Rib, Strongback, cut_along
from curing.strength import PSI
from tests.curing.test_sections import INCH, POUND_FOOT, VANITY, meshed

BY_ENDS = Carry("flat by its ends", "face")
ON_TWO = Carry("flat on two supports", "face", 0.21)
ON_EDGE = Carry("on edge", "back")
WEIGHT = Load("weight")

COUNTER = Panel(96 * INCH, 25.5 * INCH, 0.75 * INCH, density=130 * POUND_FOOT)
SINK = Panel(2.4, 0.65, 0.019, cutouts=(Cutout(0.8, 0.07, 0.75, 0.45),))


@pytest.mark.parametrize(
    ("carry", "psi", "within"), [(BY_ENDS, 690, 5), (ON_TWO, 120, 5), (ON_EDGE, 20, 0.5)]
)
def test_the_way_it_is_carried_matters_more_than_its_weight(
    carry: Carry, psi: float, within: float
) -> None:
    """8 ft × 25½ in × ¾ in at 130 lb/ft³: wL²/8, wa²/2 and wL²/8 on edge, by hand."""
    assert peak_tension(COUNTER, carry, WEIGHT).stress / PSI == pytest.approx(psi, abs=within)


def test_closed_forms_of_a_plain_panel() -> None:
    w, length, modulus = 150.0, 3.0, 0.6 * 0.02**2 / 6
    panel = Panel(length, 0.6, 0.02, density=w / (0.6 * 0.02 * GRAVITY))
    at_ends = peak_tension(panel, BY_ENDS, WEIGHT)
    assert at_ends.stress == pytest.approx(w * length**2 / 8 / modulus / 1e6)
    assert at_ends.at == pytest.approx(1.5)
    assert at_ends.depth == 0.0
    hogging = peak_tension(panel, replace(ON_TWO, share=0.3), WEIGHT)
    assert hogging.stress == pytest.approx(w * 0.9**2 / 2 / modulus / 1e6)
    assert hogging.at in (pytest.approx(0.9), pytest.approx(2.1))
    assert hogging.depth == pytest.approx(0.02)


def test_simple_beam_and_overhangs() -> None:
    assert Beam((0, 8), (1.0,), (0, 8)).moment(4.0) == pytest.approx(8.0)
    beam = Beam((0.0, 10.0), (2.0,), (2.0, 8.0))
    assert beam.reactions == pytest.approx((10.0, 10.0))
    np.testing.assert_allclose(beam.moment([0, 2, 5, 8, 10]), [0, -4, 5, -4, 0], atol=1e-12)


def test_supports_at_0_207_bend_it_least() -> None:
    """(√2 - 1) / 2: sagging and hogging are equal."""
    best = (math.sqrt(2) - 1) / 2
    beam = Beam((0.0, 1.0), (1.0,), (best, 1 - best))
    assert beam.moment(best) == pytest.approx(-float(beam.moment(0.5)))
    assert beam.moment(0.5) == pytest.approx(0.02145, abs=1e-5)


@given(
    loads=st.lists(st.floats(0.1, 50), min_size=1, max_size=5),
    share=st.floats(0.0, 0.45),
)
def test_any_beam_is_in_balance(loads: list[float], share: float) -> None:
    count = len(loads)
    beam = Beam(tuple(map(float, range(count + 1))), tuple(loads), (share, count - share))
    assert sum(beam.reactions) == pytest.approx(sum(loads))
    assert float(beam.moment(count)) == pytest.approx(0.0, abs=1e-9 * sum(loads) * count)
    # Where no support is, the curvature of the moment is the load.
    inner, step = 0.475, 0.01
    bend = beam.moment(inner + step) - 2 * beam.moment(inner) + beam.moment(inner - step)
    assert -float(bend) / step**2 == pytest.approx(loads[0], rel=1e-6)


def test_the_rails_of_a_flat_panel_bear_its_moment_on_their_width() -> None:
    beam = carried_beam(SINK, BY_ENDS, WEIGHT)
    x = np.linspace(0.8, 1.55, 20001)
    expected = float(beam.moment(x).max()) / ((0.07 + 0.13) * 0.019**2 / 6) / 1e6
    peak = peak_tension(SINK, BY_ENDS, WEIGHT)
    assert peak.stress == pytest.approx(expected, rel=1e-6)
    assert peak.parts == 2


@pytest.mark.parametrize("down", ["face", "underside"])
def test_skew_bending_against_sectionproperties(down) -> None:
    """A front edge turns the axes of bending: the same moment, the library's greatest tension."""
    panel = Panel(2.4, 0.3, 0.019, edges=(Edge("front", 0.03, 0.05),))
    moment = float(carried_beam(panel, BY_ENDS, WEIGHT).moment(1.2)) * 1e3  # N mm
    section = meshed(cut_along(panel)[0].whole)
    mxx = moment if down == "face" else -moment  # there, above 0 stretches the top
    sigma = section.calculate_stress(mxx=mxx).get_stress()
    greatest = max(float(group["sig_zz"].max()) for group in sigma)
    peak = peak_tension(panel, Carry("", down), WEIGHT)
    assert peak.stress == pytest.approx(greatest, rel=5e-3)


def frame_tension(panel: Panel, share: float = 0.0) -> float:
    """The rails' greatest tension [MPa] on edge, by a plane frame with stiff arms at the sink."""
    hole = panel.cutouts[0]
    x0, x1, wide = hole.x, hole.x + hole.length, panel.width
    low, high = hole.y, wide - hole.y - hole.width
    left, right = share * panel.length, (1 - share) * panel.length
    nodes = [
        (0, wide / 2),
        (left, wide / 2) if share else None,
        (x0, wide / 2),
        (x0, low / 2),
        (x0, wide - high / 2),
        (x1, low / 2),
        (x1, wide - high / 2),
        (x1, wide / 2),
        (right, wide / 2) if share else None,
        (panel.length, wide / 2),
    ]
    index = {name: i for i, name in enumerate(n for n in range(10) if nodes[n] is not None)}
    place = [node for node in nodes if node is not None]
    chain = [n for n in (0, 1, 2) if n in index], [n for n in (7, 8, 9) if n in index]
    bars = [(a, b, wide) for run in chain for a, b in pairwise(run)]
    bars += [(3, 5, low), (4, 6, high)]
    arms = [(2, 3), (2, 4), (5, 7), (6, 7)]
    t, stiffness = panel.face, np.zeros((3 * len(place), 3 * len(place)))
    force = np.zeros(3 * len(place))
    rails = []
    for a, b, deep in [*bars, *((a, b, None) for a, b in arms)]:
        i, j = index[a], index[b]
        (xa, ya), (xb, yb) = place[i], place[j]
        long = math.hypot(xb - xa, yb - ya)
        c, s = (xb - xa) / long, (yb - ya) / long
        area, inertia = (t * deep, t * deep**3 / 12) if deep else (1e4, 1e4)
        bend = inertia / long**3
        k = np.zeros((6, 6))
        k[np.ix_([0, 3], [0, 3])] = area / long * np.array([[1, -1], [-1, 1]])
        k[np.ix_([1, 2, 4, 5], [1, 2, 4, 5])] = bend * np.array(
            [
                [12, 6 * long, -12, 6 * long],
                [6 * long, 4 * long**2, -6 * long, 2 * long**2],
                [-12, -6 * long, 12, -6 * long],
                [6 * long, 2 * long**2, -6 * long, 4 * long**2],
            ]
        )
        turn = np.zeros((6, 6))
        turn[:3, :3] = turn[3:, 3:] = [[c, s, 0], [-s, c, 0], [0, 0, 1]]
        at = [3 * i, 3 * i + 1, 3 * i + 2, 3 * j, 3 * j + 1, 3 * j + 2]
        stiffness[np.ix_(at, at)] += turn.T @ k @ turn
        w = panel.density * GRAVITY * t * deep if deep else 0.0
        fixed = np.array([0, w * long / 2, w * long**2 / 12, 0, w * long / 2, -w * long**2 / 12])
        force[at] += fixed
        if (a, b) in ((3, 5), (4, 6)):
            rails.append((at, k, fixed, w, long, deep))
    held = [index[1 if share else 0], index[8 if share else 9]]
    bound = [3 * held[0], 3 * held[0] + 1, 3 * held[1] + 1]
    free = [d for d in range(len(force)) if d not in bound]
    moved = np.zeros(len(force))
    moved[free] = np.linalg.solve(stiffness[np.ix_(free, free)], force[free])
    greatest = 0.0
    for at, k, fixed, w, long, deep in rails:
        ends = k @ moved[at] - fixed
        x = np.linspace(0, long, 2001)
        moment = np.abs(ends[2] - ends[1] * x - w * x**2 / 2)
        stress = -ends[0] / (t * deep) + moment * 6 / (t * deep**2)
        greatest = max(greatest, float(stress.max()) / 1e6)
    return greatest


@pytest.mark.parametrize("x", [0.45, 0.8, 0.825])
@pytest.mark.parametrize("y", [0.05, 0.1, 0.13])
def test_rails_on_edge_bend_as_a_frame_does(x: float, y: float) -> None:
    """The whole frame by the stiffness method, under loads on its members."""
    panel = replace(SINK, cutouts=(Cutout(x, y, 0.75, 0.45),))
    peak = peak_tension(panel, ON_EDGE, WEIGHT)
    assert peak.parts == 2
    assert peak.stress == pytest.approx(frame_tension(panel), rel=1e-4)


def test_rails_on_edge_with_overhangs_bend_as_a_frame_does() -> None:
    peak = peak_tension(SINK, replace(ON_EDGE, share=0.2), WEIGHT)
    assert peak.parts == 2
    assert peak.stress == pytest.approx(frame_tension(SINK, 0.2), rel=1e-4)


def test_a_support_under_the_sink_is_seen() -> None:
    """Two supports within the hole: the peak is over the one with the heavier overhang."""
    held = replace(BY_ENDS, share=0.4)
    peak = peak_tension(SINK, held, WEIGHT)
    moment = -float(carried_beam(SINK, held, WEIGHT).moment(1.44))
    assert peak.stress == pytest.approx(moment / (0.2 * 0.019**2 / 6) / 1e6, rel=1e-6)
    assert peak.at == pytest.approx(1.44)


def test_clamped_and_bonded_strongbacks_relieve_the_rails() -> None:
    def stress(*bars: Strongback) -> float:
        return peak_tension(replace(SINK, strongbacks=bars), BY_ENDS, WEIGHT).stress

    clamped = [Strongback(0.1, y, 2.2, 0.038, 0.089, 9e3, 450.0) for y in (0.01, 0.57)]
    bonded = [replace(bar, bonded=True) for bar in clamped]
    assert stress(*clamped) < stress(clamped[0]) < stress()
    assert stress(*bonded) < stress(bonded[0]) < stress()


def test_a_clamped_bar_takes_its_share_by_stiffness() -> None:
    bar = Strongback(0.0, 0.1, 2.4, 0.04, 0.09, 9e3, 450.0)
    panel = Panel(2.4, 0.65, 0.019, strongbacks=(bar,))
    slab, timber = 0.65 * 0.019**3 / 12, 9e3 / 20e3 * 0.04 * 0.09**3 / 12
    moment = panel.mass * GRAVITY * 2.4 / 8 * slab / (slab + timber)
    expected = moment / (0.65 * 0.019**2 / 6) / 1e6
    assert peak_tension(panel, BY_ENDS, WEIGHT).stress == pytest.approx(expected)


@pytest.mark.parametrize("along", ["length", "width"])
@pytest.mark.parametrize("share", [0.0, 0.21])
def test_a_piece_turned_by_a_right_angle_bends_the_same(along: Along, share: float) -> None:
    piece = Panel(
        2.4,
        0.62,
        0.019,
        edges=(Edge("front", 0.025, 0.038), Edge("right", 0.02, 0.03)),
        ribs=(Rib(0.56, 0.035, 0.03), Rib(0.3, 0.03, 0.02, along="width")),
        cutouts=(Cutout(0.8, 0.08, 0.75, 0.42),),
    )
    turned = Panel(
        0.62,
        2.4,
        0.019,
        edges=(Edge("left", 0.025, 0.038), Edge("back", 0.02, 0.03)),
        ribs=(Rib(0.56, 0.035, 0.03, along="width"), Rib(0.3, 0.03, 0.02)),
        cutouts=(Cutout(0.08, 0.8, 0.42, 0.75),),
    )
    other: Along = "width" if along == "length" else "length"
    here = peak_tension(piece, Carry("", "face", share, along), WEIGHT)
    there = peak_tension(turned, Carry("", "face", share, other), WEIGHT)
    assert here.stress == pytest.approx(there.stress)


CARRIES = [
    BY_ENDS,
    ON_TWO,
    ON_EDGE,
    Carry("", "underside"),
    Carry("", "front", 0.1),
    Carry("", "face", along="width"),
]


@pytest.mark.parametrize("carry", CARRIES)
@settings(max_examples=30)
@given(scale=st.floats(0.2, 5.0))
def test_twice_the_size_is_twice_the_stress(carry: Carry, scale: float) -> None:
    large = Panel(
        scale * 2.4,
        scale * 0.62,
        scale * 0.019,
        edges=tuple(Edge(e.side, scale * e.width, scale * e.depth) for e in VANITY.edges),
        ribs=tuple(Rib(scale * r.at, scale * r.width, scale * r.depth) for r in VANITY.ribs),
        cutouts=(Cutout(scale * 0.8, scale * 0.08, scale * 0.75, scale * 0.42),),
    )
    small = peak_tension(VANITY, carry, WEIGHT).stress
    assert peak_tension(large, carry, WEIGHT).stress == pytest.approx(scale * small, rel=1e-6)


@pytest.mark.parametrize("carry", CARRIES)
@settings(max_examples=30)
@given(density=st.floats(1000, 2500), more=st.floats(0, 500), bond=st.floats(0, 3000))
def test_heavier_never_less_stress(carry: Carry, density: float, more: float, bond: float) -> None:
    load = Load("weight + bond", bond=bond)
    light = peak_tension(replace(VANITY, density=density), carry, load).stress
    heavy = peak_tension(replace(VANITY, density=density + more), carry, load).stress
    assert heavy >= light * (1 - 1e-9)


@pytest.mark.parametrize("carry", [BY_ENDS, ON_EDGE, Carry("", "front")])
@given(rail=st.floats(0.02, 0.2), less=st.floats(0.001, 0.018))
def test_narrower_rails_never_less_stress(carry: Carry, rail: float, less: float) -> None:
    """A sink in the middle between rails of one width, carried by the ends."""

    def stress(width: float) -> float:
        hole = Cutout(0.8, width, 0.8, 0.65 - 2 * width)
        return peak_tension(replace(SINK, cutouts=(hole,)), carry, WEIGHT).stress

    assert stress(rail - less) >= stress(rail)


@pytest.mark.parametrize("carry", CARRIES)
@settings(max_examples=30)
@given(factor=st.floats(1.0, 3.0))
def test_stress_goes_with_the_multiplier(carry: Carry, factor: float) -> None:
    once = peak_tension(VANITY, carry, WEIGHT).stress
    times = peak_tension(VANITY, carry, Load("", factor)).stress
    assert times == pytest.approx(factor * once)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: Carry("", "face", 0.5), "0 to under 0.5"),
        (lambda: Load("", factor=0.0), "factor must be above 0"),
        (lambda: Load("", bond=-1.0), "bond must not be below 0"),
        (lambda: Beam((0.0, 1.0), (1.0, 2.0), (0.0, 1.0)), "one load between"),
        (lambda: Beam((0.0, 0.0), (1.0,), (0.0, 1.0)), "stations must rise"),
        (lambda: Beam((0.0, 1.0), (1.0,), (0.5, 1.5)), "supports must lie"),
    ],
)
def test_what_cannot_be_is_refused_by_name(make, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        make()
