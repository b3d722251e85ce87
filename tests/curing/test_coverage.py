"""The stated chances come true, on simulated shops; `python -m curing coverage` runs 2,000."""

from __future__ import annotations

import math

import numpy as np
import pytest

from curing.coverage import CASES, LEVELS, as_text, coverage

FEW = 100


@pytest.mark.parametrize("round_the_clock", [True, False])
def test_the_truth_comes_by_the_stated_times_as_often_as_stated(round_the_clock: bool) -> None:
    """Within three standard errors of so many cases (2.4 at 10 and 90 %)."""
    found = coverage(FEW, seed=11, round_the_clock=round_the_clock)
    for level, ranked in zip(LEVELS, found.ranked, strict=True):
        assert abs(ranked - level) <= 3.0 * math.sqrt(level * (1 - level) / FEW)
    # Shifts put many draws on one time: nobody is promised less than what is said.
    late = found.at_or_before[2]
    assert late >= 0.9 - 3.0 * math.sqrt(0.09 / FEW)


def test_a_range_that_is_made_too_narrow_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Were the truth three times as doubtful as stated, coverage would say so."""
    from curing import coverage as module

    true_air = module._true_air

    def wilder(*given: object) -> object:
        chance, climate, air = given
        return climate.celsius + 4.0 * (true_air(chance, climate, air) - climate.celsius)  # type: ignore[attr-defined, arg-type, operator]

    monkeypatch.setattr(module, "_true_air", wilder)
    monkeypatch.setattr(module, "BAND", 0.05)
    found = coverage(60, seed=11, round_the_clock=True)
    outside = 1.0 - (found.ranked[2] - found.ranked[0])
    assert outside > 0.2 + 3.0 * math.sqrt(0.16 / 60) or np.abs(found.ranked - LEVELS).max() > 0.1


def test_the_command_says_what_it_found() -> None:
    lines = as_text(coverage(3, seed=2))
    assert lines[0] == "3 simulated shops, people at work in shifts"
    assert len(lines) == 4
    assert "the 90 % time" in lines[3]
    assert CASES == 2000
    with pytest.raises(ValueError, match="one case"):
        coverage(0)
