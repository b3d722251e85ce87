"""The finite volumes against closed forms, a published benchmark, and themselves refined."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from curing.diffusion import CYLINDER, SPHERE, Grid, March, first_fall, march
from curing.diffusivity import CONSTANT, MODEL_CODE, HumidityLaw
from curing.sheet import film_loss, sheet_loss, triangular_loss


def steps_to(end: float, count: int) -> np.ndarray:
    return np.diff(end * np.linspace(0.0, 1.0, count + 1) ** 2.5)


def steady(law: HumidityLaw, end: float, air: float, cells: int = 40, count: int = 60, **more):
    geometry = more.pop("geometry", 0)
    grid = Grid.of(cells, geometry)
    return march(law, grid, steps_to(end, count), np.full(count, air), **more)


def loss(run: March) -> float:
    return float(run.lost[-1, 0])


@pytest.mark.parametrize(
    ("share", "fo"), [(0.1, 0.0078), (0.3, 0.0707), (0.5, 0.197), (0.7, 0.403), (0.9, 0.848)]
)
def test_constant_d_reproduces_the_printed_tables(share: float, fo: float) -> None:
    """Printed one-dimensional diffusion tables, uniform start."""
    assert loss(steady(CONSTANT, fo, 0.0, cells=80, count=120)) == pytest.approx(share, abs=5e-4)


def test_constant_d_at_a_quarter() -> None:
    """Crank, plane sheet: mean loss 0.562233541762, mid-plane 0.31455423311 at Fo 0.25."""
    run = steady(CONSTANT, 0.25, 0.0, cells=160, count=120)
    assert loss(run) == pytest.approx(0.562233541762, abs=2e-5)
    assert 1.0 - float(run.at(1.0)[-1, 0]) == pytest.approx(0.31455423311, abs=2e-5)


def test_constant_d_through_a_film() -> None:
    """Crank, equation 4.53, Bi 20, Fo 0.125."""
    run = steady(CONSTANT, 0.125, 0.0, cells=160, count=120, inverse_biot=0.05)
    assert loss(run) == pytest.approx(0.352886178063, abs=2e-5)


@pytest.mark.parametrize(("share", "fo"), [(0.5, 0.294), (0.9, 0.946)])
def test_triangular_start(share: float, fo: float) -> None:
    """Printed tables, a start that rises evenly from the open face."""
    grid = Grid.of(80)
    run = march(CONSTANT, grid, steps_to(fo, 60), np.zeros(60), start=1.0 - grid.centres)
    done = loss(run) / float(run.mean()[0, 0])
    assert done == pytest.approx(share, abs=5e-4)
    assert done == pytest.approx(float(triangular_loss(fo)), abs=2e-4)


def test_the_error_falls_with_the_square_of_cell_and_step() -> None:
    exact = float(sheet_loss(0.1))
    errors = [abs(loss(steady(CONSTANT, 0.1, 0.0, n, 2 * n)) - exact) for n in (10, 20, 40)]
    assert errors[0] / errors[1] > 3.5
    assert errors[1] / errors[2] > 3.5
    exact = float(film_loss(0.1, 5.0))
    errors = [
        abs(loss(steady(CONSTANT, 0.1, 0.0, n, 2 * n, inverse_biot=0.2)) - exact)
        for n in (10, 20, 40)
    ]
    assert errors[0] / errors[1] > 3.5
    assert errors[1] / errors[2] > 3.5


def test_nonlinear_cylinder() -> None:
    """The data of a finite-element code's test, converged: R 10 mm, C1 3.1e-5 m²/d, 1 d. The code's
    own coarse scheme gives 0.8219, 0.8166 and 0.8054: those are not aimed at."""
    run = steady(HumidityLaw(0.02, 0.775, 5.0), 3.1e-5 / 0.010**2, 0.5, geometry=CYLINDER)
    found = [float(run.at(1.0 - r / 10.0)[-1, 0]) for r in (0.0, 2.0, 4.0)]
    np.testing.assert_allclose(found, [0.8302, 0.8256, 0.8115], rtol=0.003)
    np.testing.assert_allclose(found, [0.8302, 0.8256, 0.8115], atol=1e-4)


@pytest.mark.parametrize("law", [MODEL_CODE, HumidityLaw(0.02, 0.775, 5.0)])
def test_nonlinear_slab_against_scipys_own_integration(law: HumidityLaw) -> None:
    """Even cells, the mean D of neighbours, and scipy's LSODA: another space, another time."""
    count = 400
    width = 1.0 / count

    def change(_fo: float, cells: np.ndarray) -> np.ndarray:
        beside = 0.5 * (cells[1:] + cells[:-1])
        inner = law.at(np.clip(beside, 0.0, 1.0)) * np.diff(cells) / width
        face = law.at(np.clip(0.5 * (cells[-1] + 0.5), 0.0, 1.0)) * (0.5 - cells[-1]) / (width / 2)
        return np.diff(np.concatenate([[0.0], inner, [face]])) / width

    found = solve_ivp(
        change,
        (0.0, 1.0),
        np.ones(count),
        method="LSODA",
        lband=1,
        uband=1,
        rtol=1e-6,
        atol=1e-8,
    )
    run = steady(law, 1.0, 0.5)
    cells = found.y[:, -1]
    assert float(run.at(1.0)[-1, 0]) == pytest.approx(cells[0], rel=3e-3)
    at = np.interp(0.6, (np.arange(count) + 0.5) * width, cells)
    assert float(run.at(0.4)[-1, 0]) == pytest.approx(at, rel=3e-3)
    assert loss(run) == pytest.approx(1.0 - cells.mean(), rel=3e-3)


@pytest.mark.parametrize("law", [CONSTANT, MODEL_CODE, HumidityLaw(0.02, 0.775, 5.0)])
@pytest.mark.parametrize("geometry", [0, CYLINDER, SPHERE])
@pytest.mark.parametrize("film", [0.0, 0.1])
def test_mass_is_conserved_to_rounding(law: HumidityLaw, geometry: int, film: float) -> None:
    rng = np.random.default_rng(5)
    air = rng.uniform(0.1, 1.0, 80)
    run = march(law, Grid.of(geometry=geometry), np.full(80, 0.01), air, inverse_biot=film)
    np.testing.assert_allclose(run.lost, 1.0 - run.mean(), atol=1e-13)


def test_halving_cells_and_steps_changes_nothing_visible() -> None:
    plain = steady(MODEL_CODE, 1.0, 0.5)
    fine = steady(MODEL_CODE, 1.0, 0.5, cells=80, count=120)
    for depth in (0.2, 0.4, 1.0):
        assert plain.at(depth)[-1, 0] == pytest.approx(fine.at(depth)[-1, 0], abs=5e-4)
    assert loss(plain) == pytest.approx(loss(fine), abs=2e-4)


def test_columns_side_by_side_are_what_they_are_alone() -> None:
    grid, steps = Grid.of(), steps_to(0.5, 40)
    airs, films = np.array([0.2, 0.5, 0.8]), np.array([0.0, 0.05, 0.3])
    together = march(MODEL_CODE, grid, steps, np.tile(airs, (40, 1)), inverse_biot=films)
    for i in range(3):
        alone = march(MODEL_CODE, grid, steps, np.full(40, airs[i]), inverse_biot=float(films[i]))
        np.testing.assert_allclose(together.cells[:, i], alone.cells[:, 0], atol=1e-8)


def test_saturated_air_changes_nothing() -> None:
    run = steady(MODEL_CODE, 1.0, 1.0)
    np.testing.assert_allclose(run.cells, 1.0, atol=1e-12)


def test_damp_air_wets_a_dry_body() -> None:
    run = steady(MODEL_CODE, 4.0, 0.9, start=0.6)
    assert loss(run) < 0
    assert 0.6 < float(run.at(1.0)[-1, 0]) < 0.9


def test_a_march_may_stop_early() -> None:
    run = steady(CONSTANT, 1.0, 0.0, stop=lambda cells, surface: bool(cells.mean() < 0.5))
    assert 1 < len(run.fo) < 61
    assert len(run.fo) == len(run.cells) == len(run.lost) == len(run.surface)


def test_first_fall() -> None:
    times = np.array([[0.0], [2.0], [4.0]])
    values = np.array([[1.0, 1.0, 0.3], [0.8, 0.9, 0.2], [0.4, 0.9, 0.1]])
    np.testing.assert_allclose(first_fall(times, values, 0.6), [3.0, np.inf, 0.0])


@settings(deadline=None, max_examples=25)
@given(
    st.lists(st.floats(0.0, 1.0), min_size=30, max_size=30),
    st.floats(0.0, 0.3),
    st.sampled_from([0.0, 0.08, 0.5]),
)
def test_damper_air_keeps_every_place_damper(air: list[float], more: float, film: float) -> None:
    steps, grid = np.full(30, 0.02), Grid.of(20)
    damper = np.minimum(np.array(air) + more, 1.0)
    run = march(
        MODEL_CODE,
        grid,
        steps,
        np.column_stack([air, damper]),
        inverse_biot=np.array([film, film]),
    )
    assert (run.mean()[:, 1] >= run.mean()[:, 0] - 1e-9).all()
    assert (run.at(0.4)[:, 1] >= run.at(0.4)[:, 0] - 2e-3).all()


@pytest.mark.parametrize(
    ("more", "named"),
    [
        ({"steps": [-0.1]}, "not negative"),
        ({"air": [1.2]}, "0 to 1"),
        ({"inverse_biot": -1.0}, "Biot"),
        ({"start": 2.0}, "0 to 1"),
    ],
)
def test_outside_the_range(more: dict[str, object], named: str) -> None:
    given_ = {"steps": [0.1], "air": [0.5]} | more
    with pytest.raises(ValueError, match=named):
        march(MODEL_CODE, Grid.of(), **given_)


def test_grids_outside_the_range() -> None:
    for wrong in ({"cells": 2}, {"geometry": 3}, {"grading": 0.5}):
        with pytest.raises(ValueError, match="grid"):
            Grid.of(**wrong)
    with pytest.raises(ValueError, match="depth"):
        steady(CONSTANT, 0.1, 0.0).at(1.5)
