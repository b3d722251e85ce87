"""What a piece's marks amount to."""

from __future__ import annotations

import datetime as dt

from jobs.models import Mark
from jobs.services.standing import standing_of

START = dt.datetime(2026, 3, 2, 14, 0, tzinfo=dt.UTC)


def mark(pk: int, kind: str = "done", step_key: str = "", strikes: int | None = None) -> Mark:
    return Mark(
        pk=pk,
        kind=kind,
        step_key=step_key,
        strikes_id=strikes,
        happened_at=START + dt.timedelta(hours=pk),
        reason=f"reason {pk}",
    )


def test_done_marks_count_by_step() -> None:
    standing = standing_of([mark(1, step_key="cast"), mark(2, step_key="demold")])

    assert list(standing.done) == ["cast", "demold"]
    assert standing.last is not None
    assert standing.last.pk == 2


def test_a_struck_mark_does_not_count() -> None:
    standing = standing_of(
        [mark(1, step_key="cast"), mark(2, step_key="demold"), mark(3, "struck", strikes=2)]
    )

    assert list(standing.done) == ["cast"]


def test_a_step_struck_and_marked_again_counts_with_its_new_time() -> None:
    standing = standing_of(
        [mark(1, step_key="cast"), mark(2, "struck", strikes=1), mark(3, step_key="cast")]
    )

    assert standing.finished_at() == {"cast": START + dt.timedelta(hours=3)}


def test_a_lost_casting_takes_its_marks_along() -> None:
    standing = standing_of([mark(1, step_key="cast"), mark(2, "recast"), mark(3, step_key="cast")])

    assert standing.castings_lost == 1
    assert standing.done["cast"].pk == 3


def test_a_struck_loss_brings_the_casting_back() -> None:
    standing = standing_of(
        [mark(1, step_key="cast"), mark(2, "recast"), mark(3, "struck", strikes=2)]
    )

    assert standing.castings_lost == 0
    assert list(standing.done) == ["cast"]


def test_the_last_of_hold_and_release_rules() -> None:
    held = standing_of([mark(1, "hold"), mark(2, "release"), mark(3, "hold")])
    released = standing_of([mark(1, "hold"), mark(2, "release")])

    assert held.hold is not None
    assert held.hold.reason == "reason 3"
    assert released.hold is None


def test_the_order_of_recording_rules_whatever_order_the_rows_come_in() -> None:
    marks = [mark(3, "release"), mark(1, step_key="cast"), mark(2, "hold")]

    assert standing_of(marks).hold is None
