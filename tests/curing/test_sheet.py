"""Closed forms of the plane sheet against printed figures."""

from __future__ import annotations

import numpy as np
import pytest

from curing.sheet import (
    film_coefficients,
    film_loss,
    film_roots,
    sheet_change,
    sheet_loss,
    triangular_loss,
)


def test_uniform_start() -> None:
    """Printed one-dimensional diffusion tables: U 10, 30, 50, 70, 90 %."""
    changes = sheet_loss([0.0078, 0.0707, 0.197, 0.403, 0.848])
    np.testing.assert_allclose(changes, [0.1, 0.3, 0.5, 0.7, 0.9], atol=5e-4)


def test_triangular_start() -> None:
    """Printed tables: U 50 and 90 %."""
    np.testing.assert_allclose(triangular_loss([0.294, 0.946]), [0.5, 0.9], atol=5e-4)


def test_quarter_fourier() -> None:
    """Crank, The Mathematics of Diffusion, plane sheet."""
    assert float(sheet_loss(0.25)) == pytest.approx(0.562233541762, abs=1e-9)
    assert float(sheet_change(0.25, 0.0)) == pytest.approx(0.31455423311, abs=1e-9)


def test_film() -> None:
    """Crank, equation 4.53."""
    assert float(film_loss(0.125, 20.0)) == pytest.approx(0.352886178063, abs=1e-6)


def test_first_root() -> None:
    """Incropera and DeWitt, table 5.1 and example 5.4."""
    assert film_roots(0.313)[0] == pytest.approx(0.531, abs=0.002)
    assert film_coefficients(0.313)[0] == pytest.approx(1.047, abs=0.002)


def test_short_and_long_forms_meet() -> None:
    assert float(sheet_loss(0.01 - 1e-12)) == pytest.approx(float(sheet_loss(0.01)), abs=1e-10)


def test_the_profile_averages_to_the_loss() -> None:
    nodes, weights = np.polynomial.legendre.leggauss(60)
    mean = 0.5 * (weights * sheet_change(0.1, 0.5 * (nodes + 1.0))).sum()
    assert mean == pytest.approx(float(sheet_loss(0.1)), abs=1e-12)


def test_a_great_biot_number_is_no_film() -> None:
    assert float(film_loss(0.2, 1e7)) == pytest.approx(float(sheet_loss(0.2)), abs=1e-6)


def test_the_change_runs_from_none_to_whole() -> None:
    assert float(sheet_loss(0.0)) == 0.0
    assert float(triangular_loss(0.0)) == pytest.approx(0.0, abs=1e-6)
    assert float(film_loss(0.0, 5.0)) == pytest.approx(0.0, abs=1e-5)
    assert float(sheet_loss(20.0)) == pytest.approx(1.0, abs=1e-12)


def test_outside_the_forms() -> None:
    with pytest.raises(ValueError, match="not negative"):
        sheet_loss(-0.1)
    with pytest.raises(ValueError, match="above 0"):
        film_roots(0.0)
    with pytest.raises(ValueError, match=r"above 0\.001"):
        sheet_change(0.0, 0.5)
    with pytest.raises(ValueError, match="0 to 1"):
        sheet_change(0.2, 1.2)
