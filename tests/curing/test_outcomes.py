"""The age a shop may trust, from how its demolds came out."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq, minimize
from scipy.stats import norm

from curing.outcomes import Because, Outcome, Prior, learn

GATE = 16.0
NOT_CLEAN = ["soft", "chipped", "broken"]

ages = st.floats(2.0, 60.0)
words = st.sampled_from(["clean", "clean", "clean", *NOT_CLEAN])
demolds = st.lists(st.tuples(ages, words), max_size=25)
targets = st.floats(0.5, 0.999)
priors = st.builds(
    Prior, st.floats(0.6, 0.99), st.floats(0.05, 1.0), st.floats(1.0, 40.0), st.floats(0.05, 1.0)
)
a_few = settings(max_examples=40, deadline=None)


def chance(age, location: float, slope: float, expected: float = 0.95):
    score = math.log(expected / (1 - expected)) + slope * np.log(np.asarray(age) / location)
    return 1.0 / (1.0 + np.exp(-score))


def simulated(location: float, slope: float, at, luck: np.random.Generator):
    clean = luck.random(len(at)) < chance(at, location, slope)
    return [(float(age), "clean" if well else "soft") for age, well in zip(at, clean, strict=True)]


# What nothing, and one more, may do


@a_few
@given(gate=st.floats(1.0, 200.0), prior=priors)
def test_without_outcomes_it_is_the_default_gate(gate: float, prior: Prior) -> None:
    nothing = learn([], gate_hours=gate, prior=prior)

    assert nothing.trusted_age(prior.expected) == gate
    assert nothing.trusted_age(0.5) == gate
    assert nothing.joint_age(prior.expected) == pytest.approx(gate, rel=1e-9)


@a_few
@given(data=demolds, age=ages, target=targets, prior=priors)
def test_one_more_clean_demold_never_makes_it_later(data, age, target, prior) -> None:
    before = learn(data, gate_hours=GATE, prior=prior).trusted_age(target)
    after = learn([*data, (age, "clean")], gate_hours=GATE, prior=prior).trusted_age(target)

    assert after <= before * (1 + 1e-7)


@a_few
@given(data=demolds, age=ages, word=st.sampled_from(NOT_CLEAN), target=targets, prior=priors)
def test_one_more_that_was_not_clean_never_makes_it_earlier(data, age, word, target, prior) -> None:
    before = learn(data, gate_hours=GATE, prior=prior).trusted_age(target)
    after = learn([*data, (age, word)], gate_hours=GATE, prior=prior).trusted_age(target)

    assert after >= before * (1 - 1e-7)


def test_learning_the_slope_too_would_break_that_both_ways() -> None:
    """Why the slopes keep their prior weight: by the joint posterior one soft at 8 h asks for an
    earlier age, and one clean at 5 h for an age a fifth later."""

    def shop(*rows: tuple[float, int, int]):
        return [(age, "clean") for age, well, _ in rows for _ in range(well)] + [
            (age, "soft") for age, _, ill in rows for _ in range(ill)
        ]

    usual = shop((9, 3, 4), (11, 10, 4), (13, 6, 0), (16, 9, 0), (20, 4, 0))
    slow = shop((9, 0, 4), (11, 0, 10), (13, 0, 11), (16, 0, 8), (20, 6, 0))
    before, after = (learn([*usual, *more], gate_hours=GATE) for more in ([], [(8.0, "soft")]))
    early, later = (learn([*slow, *more], gate_hours=GATE) for more in ([], [(5.0, "clean")]))

    assert after.joint_age() < 0.996 * before.joint_age()
    assert after.trusted_age() >= before.trusted_age()
    assert later.joint_age() > 1.2 * early.joint_age()
    assert later.trusted_age() <= early.trusted_age()


@a_few
@given(data=demolds, seed=st.integers(0, 99))
def test_the_order_of_outcomes_does_not_matter(data, seed) -> None:
    mixed = list(data)
    random.Random(seed).shuffle(mixed)
    one, other = learn(data, gate_hours=GATE), learn(mixed, gate_hours=GATE)

    assert one == other
    assert one.trusted_age() == other.trusted_age()


@a_few
@given(data=demolds, lower=targets, higher=targets)
def test_a_higher_target_never_asks_for_an_earlier_age(data, lower, higher) -> None:
    evidence = learn(data, gate_hours=GATE)
    lower, higher = sorted((lower, higher))

    assert evidence.trusted_age(lower) <= evidence.trusted_age(higher)


# The guards


@a_few
@given(data=demolds, broke=ages, clean=st.integers(0, 2000))
def test_it_stays_above_an_age_at_which_a_piece_broke(data, broke, clean) -> None:
    evidence = learn([*data, (broke, "broken")] + [(broke, "clean")] * clean, gate_hours=GATE)

    assert evidence.trusted_age(0.5) > broke


def test_soft_chipped_and_broken_are_one_thing_to_the_chance_and_three_to_the_eye() -> None:
    curves = []
    for word in NOT_CLEAN:
        evidence = learn([(14, word), (14, "clean"), (20, "clean")], gate_hours=GATE)
        curves.append(evidence.curve([10.0, 14.0, 20.0]).mean)
        assert evidence.counts == {kind: {"clean": 2, word: 1}.get(kind, 0) for kind in Outcome}
        assert [(p.age_hours, p.count, p.clean, p.not_clean) for p in evidence.points] == [
            (14.0, 2, 1, 1),
            (20.0, 1, 1, 0),
        ]
    np.testing.assert_array_equal(curves[0], curves[1])
    np.testing.assert_array_equal(curves[0], curves[2])


def test_it_comes_down_by_a_step_at_a_time_and_only_after_ten_clean() -> None:
    at_gate = [(GATE, "clean")] * 200
    nine, ten = learn(at_gate[:9], gate_hours=GATE), learn(at_gate[:10], gate_hours=GATE)
    many = learn(at_gate, gate_hours=GATE)
    lucky = learn([*at_gate, (6.0, "clean")], gate_hours=GATE)
    next_step = learn(at_gate + [(14.4, "clean")] * 10, gate_hours=GATE)

    assert nine.trusted(0.95).hours == GATE
    assert nine.trusted(0.95).because is Because.STEP
    assert GATE * 0.9 <= ten.trusted_age() < GATE
    assert many.trusted_age() == lucky.trusted_age() == pytest.approx(14.4)
    assert next_step.trusted_age() == pytest.approx(14.4 * 0.9)


# What the owner is asked


@a_few
@given(data=demolds, floor=st.floats(1.0, 40.0), now=st.floats(1.0, 60.0), target=targets)
def test_a_gate_is_raised_at_once_lowered_on_asking_and_never_under_the_floor(
    data, floor, now, target
) -> None:
    said = learn(data, gate_hours=GATE).suggested(floor, in_force=now, target=target)

    assert said.suggested >= floor
    assert said.hours >= max(floor, said.trusted, now)
    assert said.suggested >= said.trusted
    assert said.warns == (said.hours > now)
    assert said.asks_yes == (said.suggested < now)
    assert not (said.warns and said.asks_yes)
    assert said.asks_yes or said.suggested == said.hours


def test_good_evidence_asks_and_the_gate_stays_until_the_owner_says_yes() -> None:
    evidence = learn([(GATE, "clean")] * 60, gate_hours=GATE)
    asked = evidence.suggested(8.0)
    accepted = evidence.suggested(8.0, in_force=asked.suggested)
    floored = evidence.suggested(15.0)

    assert (asked.asks_yes, asked.warns, asked.hours, asked.because) == (True, False, 16.0, "step")
    assert asked.suggested == pytest.approx(14.4)
    assert (accepted.asks_yes, accepted.warns, accepted.hours) == (False, False, asked.suggested)
    assert (floored.asks_yes, floored.suggested, floored.because) == (True, 15.0, "floor")
    assert not evidence.suggested(15.9).asks_yes  # for six minutes nobody is asked


def test_bad_evidence_raises_the_gate_at_once() -> None:
    soft = learn([(GATE, "clean")] * 8 + [(GATE, "soft")] * 3, gate_hours=GATE).suggested(8.0)
    broken = learn([(GATE, "clean")] * 200 + [(GATE, "broken")], gate_hours=GATE).suggested(8.0)
    nothing = learn([], gate_hours=GATE).suggested(8.0)
    under = learn([], gate_hours=GATE).suggested(18.0)

    assert soft.warns
    assert soft.because is Because.OUTCOMES
    assert 18.0 < soft.hours < 26.0
    assert (broken.warns, broken.hours, broken.because) == (True, pytest.approx(16.8), "broken")
    assert (nothing.warns, nothing.asks_yes, nothing.hours) == (False, False, GATE)
    assert nothing.because is Because.IN_FORCE
    assert (under.warns, under.hours, under.because) == (True, 18.0, "floor")


# The curve


@a_few
@given(data=demolds, prior=priors)
def test_the_curve_and_its_band_rise_with_age(data, prior) -> None:
    drawn = learn(data, gate_hours=GATE, prior=prior).curve(np.geomspace(1.0, 200.0, 40))

    for line in (drawn.low, drawn.mean, drawn.high):
        assert np.all(np.diff(line) >= -1e-12)
        assert np.all((line >= 0) & (line <= 1))
    assert np.all(drawn.low <= drawn.high)


@pytest.mark.parametrize("target", [0.94, 0.95, 0.99])
def test_its_lower_edge_reaches_the_target_at_the_trusted_age(target: float) -> None:
    data = [(12.0, "clean"), (12.0, "soft"), (16.0, "soft")] + [(18.0, "clean")] * 20
    evidence = learn(data, gate_hours=GATE)
    trusted = evidence.trusted(target)

    assert trusted.because is Because.OUTCOMES
    assert evidence.curve([trusted.hours]).low == pytest.approx(target, abs=1e-6)


# Against other ways to the same numbers


def of_posterior(data, prior: Prior, location: float, log_slope: float) -> float:
    """Minus the log of the penalised likelihood, demold by demold."""
    total = 0.5 * ((location - prior.centre) / prior.location_spread) ** 2
    total += 0.5 * ((log_slope - math.log(prior.slope)) / prior.slope_spread) ** 2
    for age, word in data:
        share = chance(age, GATE * math.exp(location), math.exp(log_slope), prior.expected)
        total -= math.log(share if word == "clean" else 1.0 - share)
    return float(total)


@pytest.mark.parametrize("seed", range(6))
def test_the_mode_is_where_scipy_finds_the_penalised_likelihood_greatest(seed: int) -> None:
    luck = np.random.default_rng(seed)
    prior = Prior(0.9 if seed % 2 else 0.95, 0.5, 6.0, 0.6)
    data = simulated(11.0 + seed, 5.0 + seed, luck.choice([9.0, 11.0, 14.0, 19.0], 30), luck)
    found = minimize(
        lambda pair: of_posterior(data, prior, *pair), [0.0, 1.5], method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 2000},
    )  # fmt: skip
    mode = learn(data, gate_hours=GATE, prior=prior).mode()

    assert math.log(mode.location / GATE) == pytest.approx(found.x[0], abs=1e-5)
    assert math.log(mode.slope) == pytest.approx(found.x[1], abs=1e-5)


def plain_fit(doses, clean, count):
    """Maximum-likelihood logistic regression: (intercept, slope) and their covariance."""
    doses, clean, count = (np.asarray(each, dtype=float) for each in (doses, clean, count))

    def missed(pair):
        score = pair[0] + pair[1] * doses
        return float((count * np.logaddexp(0.0, score) - clean * score).sum())

    best = minimize(missed, [0.0, 1.0], method="BFGS").x
    share = 1.0 / (1.0 + np.exp(-(best[0] + best[1] * doses)))
    rows = np.stack([np.ones_like(doses), doses])
    return best, np.linalg.inv((rows * (count * share * (1 - share))) @ rows.T)


def test_the_plain_fit_finds_the_bioassay_of_the_book() -> None:
    """Four doses, five animals each; estimates 0.8 ± 1.0 and 7.7 ± 4.9. Gelman et al., Bayesian Data
    Analysis, section 3.7, data and estimates from memory."""
    best, covariance = plain_fit([-0.86, -0.30, -0.05, 0.73], [0, 1, 3, 5], [5, 5, 5, 5])

    assert best == pytest.approx([0.8, 7.7], abs=0.06)
    assert np.sqrt(np.diag(covariance)) == pytest.approx([1.0, 4.9], abs=0.06)


def test_with_much_data_and_a_wide_prior_it_is_the_plain_fit() -> None:
    luck = np.random.default_rng(5)
    at = np.repeat(np.linspace(8.0, 20.0, 13), 300)
    data = simulated(15.0, 7.0, at, luck)
    evidence = learn(data, gate_hours=GATE, prior=Prior(0.95, 1.0, 5.0, 1.0))
    points = evidence.points
    best, covariance = plain_fit(
        [math.log(p.age_hours) for p in points],
        [p.clean for p in points],
        [p.count for p in points],
    )
    log_location = (math.log(0.95 / 0.05) - best[0]) / best[1]
    lean = np.array([-1.0, -log_location]) / best[1]  # of ln location to intercept and slope
    spread = math.sqrt(lean @ covariance @ lean)
    mode, place = evidence.mode(), evidence.location()

    assert mode.location == pytest.approx(math.exp(log_location), rel=0.1 * spread)
    assert mode.slope == pytest.approx(best[1], rel=0.005)
    assert place.middle == pytest.approx(math.exp(log_location), rel=0.3 * spread)
    # 5 to 95 % of a normal is 2 × 1.645 of its spread.
    assert math.log(place.high / place.low) == pytest.approx(3.29 * spread, rel=0.1)


def test_with_a_slope_known_well_the_bound_is_the_quantile_of_one_number() -> None:
    prior = Prior(0.95, 0.3, 8.0, 0.05)
    data = [(12.0, "soft"), (13.0, "clean"), (16.0, "soft")] + [(17.0, "clean")] * 12
    slopes = 8.0 * np.exp(0.05 * np.linspace(-3, 3, 13))
    weights = norm.pdf(np.linspace(-3, 3, 13)) / norm.pdf(np.linspace(-3, 3, 13)).sum()

    def density(location: float, slope: float) -> float:
        return math.exp(-of_posterior(data, prior, location, math.log(slope)))

    def below(location: float) -> float:
        return sum(
            weight
            * quad(density, -2.5, location, (slope,))[0]
            / quad(density, -2.5, 1.5, (slope,))[0]
            for slope, weight in zip(slopes, weights, strict=True)
        )

    expected = GATE * math.exp(brentq(lambda at: below(at) - 0.95, -0.3, 0.8, xtol=1e-6))
    evidence = learn(data, gate_hours=GATE, prior=prior)

    assert evidence.trusted(0.95).because is Because.OUTCOMES
    assert evidence.trusted_age() == pytest.approx(expected, rel=2e-4)


# Shops whose truth is known


def test_the_band_of_the_location_covers_the_truth_nine_times_in_ten() -> None:
    """300 shops drawn as the prior believes; 2.6 binomial errors either side. The trusted age is too
    early for at most the twentieth that the credence grants, and the same error."""
    luck, prior, shops = np.random.default_rng(11), Prior(), 300
    held = early = 0
    for _ in range(shops):
        location = GATE * math.exp(luck.normal(prior.centre, prior.location_spread))
        slope = prior.slope * math.exp(luck.normal(0.0, prior.slope_spread))
        at = luck.choice([8.0, 10.0, 12.0, 14.0, 16.0, 20.0], int(luck.integers(5, 80)))
        evidence = learn(simulated(location, slope, at, luck), gate_hours=GATE)
        place = evidence.location()
        held += place.low <= location <= place.high
        early += evidence.trusted_age() < location

    assert held / shops == pytest.approx(0.90, abs=2.6 * math.sqrt(0.9 * 0.1 / shops))
    assert early / shops <= 0.05 + 2.6 * math.sqrt(0.05 * 0.95 / shops)


@pytest.mark.parametrize("slope", [5.0, 12.0])
def test_a_shop_whose_gate_is_too_early_finds_out(slope: float) -> None:
    """Its 95 % lies at 21 h, so the default gate gives 83 or 41 %. Ten demolds at a time at the gate
    that then applies, it ends where 93 % at least come out clean, and not much later than it need."""
    for seed in range(4):
        luck, gate, data = np.random.default_rng(seed), GATE, []
        for _ in range(12):
            at = np.round(gate * np.exp(np.abs(luck.normal(0.0, 0.08, 10))), 1)
            data += simulated(21.0, slope, at, luck)
            gate = learn(data, gate_hours=GATE).suggested(8.0, in_force=gate).hours

        assert chance(gate, 21.0, slope) >= 0.93
        assert gate < 21.0 * 1.6


# What it refuses


@pytest.mark.parametrize("age", [0.0, -1.0, math.nan, math.inf])
def test_impossible_ages_are_refused(age: float) -> None:
    with pytest.raises(ValueError, match="age at demold must be finite and above 0 h"):
        learn([(age, "clean")], gate_hours=GATE)
    with pytest.raises(ValueError, match="default gate must be finite and above 0 h"):
        learn([], gate_hours=age)
    evidence = learn([], gate_hours=GATE)
    with pytest.raises(ValueError, match="floor must be finite and above 0 h"):
        evidence.suggested(age)
    with pytest.raises(ValueError, match="gate in force must be finite and above 0 h"):
        evidence.suggested(8.0, in_force=age)
    with pytest.raises(ValueError, match="ages must be one row of finite hours above 0"):
        evidence.curve([12.0, age])


def test_an_unknown_outcome_is_refused_with_the_known_ones() -> None:
    with pytest.raises(ValueError, match="one of clean, soft, chipped, broken, got 'fine'"):
        learn([(12.0, "fine")], gate_hours=GATE)


@pytest.mark.parametrize("target", [0.49, 0.9995, 1.0, math.nan])
def test_a_target_out_of_range_is_refused(target: float) -> None:
    evidence = learn([], gate_hours=GATE)

    for ask in (evidence.trusted_age, evidence.joint_age):
        with pytest.raises(ValueError, match=r"target must be from 0\.5 to 0\.999"):
            ask(target)
    with pytest.raises(ValueError, match=r"target must be from 0\.5 to 0\.999"):
        evidence.suggested(8.0, target=target)


@pytest.mark.parametrize(
    ("name", "value"),
    [("expected", 1.0), ("location_spread", 0.0), ("slope", -8.0), ("slope_spread", math.inf)],
)
def test_a_prior_out_of_range_is_refused(name: str, value: float) -> None:
    with pytest.raises(ValueError, match=f"{name} must be from"):
        Prior(**{name: value})


def test_far_outcomes_leave_numbers_that_are_finite() -> None:
    far = learn([(1e-9, "clean"), (1e9, "soft"), (400.0, "soft")] * 50, gate_hours=GATE)

    assert math.isfinite(far.trusted_age())
    assert far.trusted_age() > GATE
    assert np.all(np.isfinite(far.curve([1e-6, 16.0, 1e6]).mean))
    assert math.isfinite(far.mode().slope)
