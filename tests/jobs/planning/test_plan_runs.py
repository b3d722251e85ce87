"""Asking for a plan: once at a time, watched, stopped, and found out when its worker is lost."""

from __future__ import annotations

import datetime as dt
import threading

import pytest
from django.db import OperationalError
from django.utils import timezone

from jobs.models import PlanRun, RunState
from jobs.services import plan_runs
from jobs.services.errors import Refused
from jobs.services.plan_runs import Diary, NoLongerOurs
from shop.models import Role
from tests.factories import NOW, make_job, make_person, make_shop

pytestmark = pytest.mark.django_db
SECOND = dt.timedelta(seconds=1)


@pytest.fixture
def owner():
    make_shop()
    return make_person(Role.OWNER)


@pytest.fixture
def nudged(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, int]]:
    sent: list[tuple[str, int]] = []
    monkeypatch.setattr(plan_runs, "nudge_after_commit", lambda *asked: sent.append(asked))
    monkeypatch.setattr(plan_runs, "nudge", lambda *asked: sent.append(asked))
    return sent


def test_two_who_ask_get_one_run_and_the_queue_one_order(owner, nudged) -> None:
    first = plan_runs.ask(owner, now=NOW)
    again = plan_runs.ask(make_person(Role.OWNER), now=NOW + SECOND)
    assert again == first
    assert nudged == [("jobs.tasks.plan_shop", first.pk)]


def test_a_job_s_rescue_is_a_run_of_its_own(owner, nudged) -> None:
    plan = plan_runs.ask(owner, now=NOW)
    job = make_job()
    rescue = plan_runs.ask(owner, about_id=job.pk, now=NOW)
    assert rescue != plan
    assert plan_runs.ask(owner, about_id=job.pk, now=NOW) == rescue
    assert ("jobs.tasks.rescue_job", rescue.pk) in nudged


def test_only_one_worker_takes_a_run(owner, nudged) -> None:
    run = plan_runs.ask(owner, now=NOW)
    assert plan_runs.claim(run.pk, NOW) is not None
    assert plan_runs.claim(run.pk, NOW) is None
    assert plan_runs.ask(owner, now=NOW) == run  # and it is still the one that is open


def test_a_worker_that_falls_silent_is_found_out_and_a_second_try_works(owner, nudged) -> None:
    run = plan_runs.ask(owner, now=NOW)
    plan_runs.claim(run.pk, NOW)
    assert plan_runs.latest(now=NOW + 29 * SECOND).state == RunState.RUNNING
    seen = plan_runs.latest(now=NOW + 31 * SECOND)
    assert seen.state == RunState.LOST
    assert "Nothing was changed" in seen.trouble
    second = plan_runs.ask(owner, now=NOW + 32 * SECOND)
    assert second != run
    assert plan_runs.claim(second.pk, NOW + 33 * SECOND) is not None


def test_a_run_that_no_worker_takes_is_lost_too(owner, nudged) -> None:
    plan_runs.ask(owner, now=NOW)
    assert plan_runs.latest(now=NOW + 29 * SECOND).state == RunState.ASKED
    assert plan_runs.latest(now=NOW + 31 * SECOND).state == RunState.LOST


def test_a_run_that_waits_behind_another_is_not_lost(owner, nudged) -> None:
    rescue = plan_runs.ask(owner, about_id=make_job().pk, now=NOW)
    plan_runs.claim(rescue.pk, NOW)
    run = plan_runs.ask(owner, now=NOW)
    later = NOW + 100 * SECOND
    PlanRun.objects.filter(pk=rescue.pk).update(beat_at=later)
    assert plan_runs.latest(now=later + SECOND).state == RunState.ASKED
    # The one before it is through: its worker still needs a moment to come to this one.
    PlanRun.objects.filter(pk=rescue.pk).update(state=RunState.READY, ended_at=later)
    assert plan_runs.latest(now=later + 20 * SECOND).state == RunState.ASKED
    assert plan_runs.latest(now=later + 31 * SECOND).state == RunState.LOST
    assert PlanRun.objects.get(pk=run.pk).ended_at == later + 31 * SECOND


def test_what_a_lost_worker_still_writes_changes_nothing(owner, nudged) -> None:
    run = plan_runs.claim(plan_runs.ask(owner, now=NOW).pk, NOW)
    plan_runs.give_up_lost(NOW + 60 * SECOND)
    diary = Diary(run)
    with pytest.raises(NoLongerOurs):
        diary.note({"late": 1})
    with pytest.raises(NoLongerOurs):
        plan_runs.ready(run, {"shown": {}})
    assert not plan_runs.beat(run.pk)
    assert PlanRun.objects.get(pk=run.pk).found is None


def test_a_nudge_that_was_lost_is_sent_again_by_the_clock(owner, nudged) -> None:
    run = plan_runs.ask(owner, now=NOW)
    nudged.clear()
    plan_runs.remind(NOW + 20 * SECOND)
    assert nudged == [("jobs.tasks.plan_shop", run.pk)]


def test_stopping_before_it_began_ends_it(owner, nudged) -> None:
    run = plan_runs.ask(owner, now=NOW)
    assert plan_runs.stop(run.pk, NOW).state == RunState.LEFT
    assert plan_runs.claim(run.pk, NOW) is None


def test_whoever_works_at_it_hears_that_it_is_to_stop(owner, nudged) -> None:
    run = plan_runs.claim(plan_runs.ask(owner, now=NOW).pk, NOW)
    clock = [0.0]
    diary = Diary(run, clock=lambda: clock[0])
    assert diary.note({"late": 3})
    plan_runs.stop(run.pk)
    clock[0] = 1.5
    assert not diary.note({"late": 2})
    stored = PlanRun.objects.get(pk=run.pk)
    assert stored.state == RunState.RUNNING  # until the best is kept
    assert [entry["late"] for entry in stored.progress] == [3, 2]


def test_the_diary_is_written_once_a_second_and_keeps_its_first_and_last_lines(
    owner, nudged, django_assert_num_queries
) -> None:
    run = plan_runs.claim(plan_runs.ask(owner, now=NOW).pk, NOW)
    clock = [0.0]
    diary = Diary(run, clock=lambda: clock[0])
    assert diary.note({"late": 500})
    with django_assert_num_queries(0):
        for number in range(200):
            clock[0] = 0.9 * number / 200
            diary.note({"late": 400 - number})
    clock[0] = 5.0
    diary.note({"late": 1})
    entries = PlanRun.objects.get(pk=run.pk).progress
    assert entries[0]["late"] == 500
    assert entries[-1] == {"seconds": 5.0, "late": 1}
    assert len(entries) <= Diary.KEPT


def test_a_new_proposal_puts_the_one_before_it_aside(owner, nudged) -> None:
    first = plan_runs.claim(plan_runs.ask(owner, now=NOW).pk, NOW)
    plan_runs.ready(first, {"shown": 1})
    second = plan_runs.claim(plan_runs.ask(owner, now=NOW).pk, NOW)
    assert plan_runs.proposal() == first  # it stays until there is another
    plan_runs.ready(second, {"shown": 2})
    assert plan_runs.proposal() == second
    first.refresh_from_db()
    assert first.state == RunState.LEFT


def test_a_proposal_is_put_aside_once(owner, nudged) -> None:
    run = plan_runs.claim(plan_runs.ask(owner, now=NOW).pk, NOW)
    plan_runs.ready(run, {"shown": 1})
    plan_runs.leave(run.pk)
    assert plan_runs.proposal() is None
    with pytest.raises(Refused, match="already"):
        plan_runs.leave(run.pk)


@pytest.mark.django_db(transaction=True)
def test_the_beat_goes_on_while_the_work_says_nothing(
    owner, nudged, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = plan_runs.ask(owner)
    long_ago = timezone.now() - dt.timedelta(minutes=5)
    plan_runs.claim(run.pk, long_ago)
    monkeypatch.setattr(plan_runs, "BEATS_EVERY", 0.01)
    beaten = threading.Event()
    real = plan_runs.beat
    monkeypatch.setattr(plan_runs, "beat", lambda pk: (real(pk), beaten.set()))
    with plan_runs.beating(run.pk):
        assert beaten.wait(30)
    run.refresh_from_db()
    assert run.beat_at is not None
    assert run.beat_at > long_ago


def test_a_database_that_is_busy_for_long_ends_no_run(owner, nudged, monkeypatch) -> None:
    run = plan_runs.claim(plan_runs.ask(owner, now=NOW).pk, NOW)
    clock = [0.0]
    diary = Diary(run, clock=lambda: clock[0])
    with monkeypatch.context() as busy:
        busy.setattr(diary, "write", _locked)
        assert diary.note({"rounds": 1})
    clock[0] = 2.0
    assert diary.note({"rounds": 2})
    run.refresh_from_db()
    assert run.progress[-1]["rounds"] == 2


def _locked() -> bool:
    raise OperationalError("database is locked")
