"""When a piece that dries by weighing may be expected to be dry."""

from __future__ import annotations

import math

import pytest

from curing.route import Weighed
from curing.waits import weighed_until

NEVER = -math.inf


@pytest.mark.parametrize(
    ("weighed", "now", "until"),
    [
        # The scale has shown it, after the wetting at 100: that moment, whatever was expected.
        (Weighed(dry_at=130.0, next_at=154.0, likely=48.0), 140.0, 130.0),
        # Shown dry before it was wetted again: that does not count.
        (Weighed(dry_at=90.0, next_at=114.0, likely=48.0), 100.0, 148.0),
        # Never weighed: what is expected, then a day from now, since two weighings show it.
        (Weighed(dry_at=None, next_at=None, likely=48.0), NEVER, 148.0),
        (Weighed(dry_at=None, next_at=None, likely=48.0), 110.0, 148.0),
        (Weighed(dry_at=None, next_at=None, likely=48.0), 160.0, 184.0),
        # Weighed at 140: not before 164, then as soon as somebody puts it on the scale.
        (Weighed(dry_at=None, next_at=164.0, likely=48.0), 141.0, 164.0),
        (Weighed(dry_at=None, next_at=164.0, likely=48.0), 170.0, 171.0),
    ],
)
def test_expected_until_shown(weighed: Weighed, now: float, until: float) -> None:
    assert weighed_until(weighed, 100.0, now) == until
