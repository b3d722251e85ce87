"""The plan's pages: asked for, watched, looked at, taken, undone; and what each says of itself."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace

import pytest
from django.core.cache import cache
from django.db import connection
from django.db.models import F
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from jobs.models import (
    InstallDate,
    Mark,
    Piece,
    PlanAccepted,
    PlannedStep,
    PlanRun,
    RunState,
)
from jobs.plan.pages import summary
from jobs.services import plan_runs, plan_taking
from jobs.services.plan_shown import JobDate, Shown
from jobs.services.plan_stored import as_json, from_json
from shop.models import Person, Role, Shop
from tests.factories import make_job, make_mark, make_person, make_piece, make_shop
from tests.jobs.planning.plan_shop import a_shop, an_owner, planned

pytestmark = pytest.mark.django_db
HTMX = {"HTTP_HX_REQUEST": "true"}


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person, "django.contrib.auth.backends.ModelBackend")
    return client


def text(response) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


@pytest.fixture
def owner() -> Person:
    make_shop()
    return an_owner()


@pytest.fixture
def client(owner: Person) -> Client:
    return signed_in(owner)


def test_without_a_plan_the_page_says_what_it_is_for(client) -> None:
    said = text(client.get(reverse("plan")))
    assert "No plan stands yet" in said
    assert "Plan the week" in said


def test_the_crew_is_not_offered_what_it_may_not_do(owner) -> None:
    said = text(signed_in(make_person(Role.CREW)).get(reverse("plan")))
    assert "No plan stands yet" in said
    assert "Plan the week" not in said


def test_pressing_twice_is_one_run(client) -> None:
    for _ in range(2):
        assert client.post(reverse("plan-ask")).status_code == 302
    assert PlanRun.objects.count() == 1
    page = client.get(reverse("plan"))
    assert "Waiting for the planner" in text(page)
    assert b'hx-trigger="every 1s"' in page.content
    assert "Plan the week" not in text(page)  # it is on its way: nothing asks for it again


def test_the_box_tells_the_best_so_far_and_that_nothing_is_proved(client, owner) -> None:
    run = plan_runs.claim(plan_runs.ask(owner).pk, timezone.now())
    entry = {"late_hours": 41.0, "late": 3, "moved": 1, "planned": 9, "by": "shaken",
             "proved": False}  # fmt: skip
    PlanRun.objects.filter(pk=run.pk).update(
        progress=[{**entry, "seconds": 0.4, "late_hours": 120.0}, {**entry, "seconds": 3.0}]
    )
    said = text(client.get(reverse("plan-run"), **HTMX))
    assert "3 jobs are late, by 41 h in all." in said
    assert "One later than the customer was told" in said
    assert "No proof that there is none better" in said
    assert "The first plan was 5 d late" in said
    assert "Stop and keep the best" in said


@pytest.mark.parametrize(
    ("late", "installs", "said", "proof"),
    [
        (0, 0, "No job is late.", "No plan is better: nothing is late."),
        (0, 1, "One agreed install is late, by 7 h.", "Proved: no plan"),
        (
            1,
            3,
            "One job is late, by 5 h. 3 agreed installs are late, by 7 h in all.",
            "Proved: no plan",
        ),
    ],
)
def test_an_install_that_comes_too_late_is_late_too(
    client, owner, late: int, installs: int, said: str, proof: str
) -> None:
    run = plan_runs.claim(plan_runs.ask(owner).pk, timezone.now())
    entry = {"late_hours": 5.0 * late, "late": late, "moved": 0, "planned": 9, "by": "whole",
             "installs": installs, "install_hours": 7.0 * bool(installs),
             "proved": True, "seconds": 0.4}  # fmt: skip
    PlanRun.objects.filter(pk=run.pk).update(progress=[{**entry, "late_hours": 120.0}, entry])
    shown = text(client.get(reverse("plan-run"), **HTMX))
    assert said in shown
    assert proof in shown
    assert ("No job is late" in shown) == (not late and not installs)


def test_a_lost_worker_is_said_and_a_second_try_offered(client, owner) -> None:
    run = plan_runs.claim(plan_runs.ask(owner).pk, timezone.now())
    long_ago = timezone.now() - dt.timedelta(minutes=2)
    PlanRun.objects.filter(pk=run.pk).update(beat_at=long_ago)
    page = client.get(reverse("plan-run"), **HTMX)
    said = text(page)
    assert "Planning broke off." in said
    assert "The plan is as it was before" in said
    assert b"every 1s" not in page.content
    client.post(reverse("plan-ask"))
    assert PlanRun.objects.filter(state=RunState.ASKED).count() == 1


def test_once_it_is_through_the_box_leads_to_the_proposal(client, owner) -> None:
    run = plan_runs.claim(plan_runs.ask(owner).pk, timezone.now())
    shown = Shown(planned_from=timezone.now())
    plan_runs.ready(run, {"shown": as_json(shown), "raw": {}})
    answer = client.get(reverse("plan-run"), **HTMX)
    assert answer.status_code == 204
    assert answer["HX-Redirect"] == reverse("plan-proposal", args=[run.pk])
    # Who comes back later finds it, too.
    assert "waits for your yes or no" in text(client.get(reverse("plan")))


def test_a_told_day_that_would_break_stands_first_and_says_why(client, owner) -> None:
    now = timezone.now()
    day = dt.timedelta(days=1)
    job = make_job("412", title="Hearth")
    date = JobDate(
        job_id=job.pk, number="412", title="Hearth", leaves=now + 9 * day, promised=now + 8 * day,
        state="short", spare_hours=-24.0, told=now + 8 * day, was=now + 7 * day, was_state="holds",
        was_hours=24.0, moved=("412-A",), why="Worker 1 is away for three days.",
    )  # fmt: skip
    run = plan_runs.claim(plan_runs.ask(owner).pk, now)
    shown = Shown(planned_from=now, jobs=(date,))
    plan_runs.ready(run, {"shown": as_json(shown), "raw": {}})
    said = text(client.get(reverse("plan-proposal", args=[run.pk])))
    assert "Customers who were told a day that this plan does not keep" in said
    assert "Worker 1 is away for three days." in said
    assert said.index("does not keep") < said.index("What would change")


@pytest.mark.parametrize(("late", "told_again"), [(7, False), (9, True), (None, True)])
def test_a_told_day_is_held_against_the_late_time_where_that_judges(
    late: int | None, told_again: bool
) -> None:
    now, day = timezone.now(), dt.timedelta(days=1)
    date = JobDate(
        job_id=1, number="412", title="", leaves=now + 6 * day, early=now + 6 * day,
        likely=now + 6 * day, late=None if late is None else now + late * day,
        told=now + 8 * day, judged_late=True,
    )  # fmt: skip
    assert date.past_told is told_again


@pytest.mark.parametrize(
    ("states", "said"),
    [
        (["short", "short", "tight", "holds"], "2 promises are short and 1 is tight; 1 holds."),
        (["short"], "1 promise is short; 0 hold."),
        (["tight", "tight", "holds", "holds"], "2 promises are tight; 2 hold."),
    ],
)
def test_the_plan_s_headline_counts_in_whole_sentences(states: list[str], said: str) -> None:
    now = timezone.now()
    jobs = tuple(
        JobDate(job_id=n, number=str(n), title="", leaves=now, promised=now, state=state)
        for n, state in enumerate(states)
    )
    assert summary(jobs) == f"By this plan {said}"


def test_a_job_that_loses_its_date_is_counted_and_its_customer_named(client, owner) -> None:
    now, day = timezone.now(), dt.timedelta(days=1)
    lost = JobDate(
        job_id=1, number="412", title="Bar top", leaves=None, promised=now + 8 * day,
        told=now + 8 * day, was=now + 6 * day, was_state="holds", why="No room before the plan ends.",
    )  # fmt: skip
    assert lost.breaks_told
    assert not replace(lost, was=None).breaks_told  # it had none before
    assert not replace(lost, told=None).breaks_told
    kept = replace(lost, number="413", leaves=now, state="holds")
    assert summary((lost, kept)) == "The promise holds; 1 has no date."
    run = plan_runs.claim(plan_runs.ask(owner).pk, now)
    shown = Shown(planned_from=now, jobs=(lost,))
    plan_runs.ready(run, {"shown": as_json(shown), "raw": {}})
    said = text(client.get(reverse("plan-proposal", args=[run.pk])))
    assert "by this plan it has no date . No room before the plan ends." in said


def test_what_is_left_out_of_the_plan_that_stands_is_named(client, owner) -> None:
    a_shop(jobs=2)
    run = planned(owner)
    plan_taking.take(run_id=run.pk, by=owner)
    assert "Not in the plan" not in text(client.get(reverse("plan")))
    piece = Piece.objects.order_by("code").first()
    make_mark(piece, "", timezone.now(), kind=Mark.Kind.HOLD, reason="Hairline crack")
    Shop.objects.update(edition=F("edition") + 1)
    said = text(client.get(reverse("plan")))
    assert "Not in the plan" in said
    assert f"{piece.code} is on hold (Hairline crack)" in said


def test_a_proposal_that_the_shop_has_outrun_says_so(client, owner) -> None:
    run = plan_runs.claim(plan_runs.ask(owner).pk, timezone.now())
    plan_runs.ready(run, {"shown": as_json(Shown(planned_from=timezone.now())), "raw": {}})
    url = reverse("plan-proposal", args=[run.pk])
    assert "has changed since" not in text(client.get(url))
    Shop.objects.update(edition=7)
    assert "The shop has changed since" in text(client.get(url))


def test_planned_looked_at_taken_seen_pinned_and_undone(client, owner) -> None:
    a_shop(jobs=2)
    run = planned(owner)
    url = reverse("plan-proposal", args=[run.pk])
    said = text(client.get(url))
    assert "planned for the first time" in said
    assert client.post(reverse("plan-take", args=[run.pk])).status_code == 422
    assert not PlannedStep.objects.exists()

    first = client.post(reverse("plan-take", args=[run.pk]), {"take": "all"}, follow=True)
    assert "Taken: the whole plan, 2 jobs." in text(first)
    # A second tap finds it taken, and nothing is done twice.
    again = client.post(reverse("plan-take", args=[run.pk]), {"take": "all"}, follow=True)
    assert "taken or put aside already" in text(again)
    assert PlanAccepted.objects.count() == 1

    row = PlannedStep.objects.filter(step_key="cast").order_by("starts_at").first()
    week = timezone.localtime(row.starts_at).date().isoformat()
    page = client.get(reverse("plan"), {"week": week})
    said = text(page)
    assert row.piece.code in said
    for person in row.people:
        assert person in said
    assert f"Pin cast {row.piece.code}" in re.sub(r"\s+", " ", page.content.decode())
    wall = text(client.get(reverse("plan-days"), {"week": week}))
    assert row.piece.code in wall
    assert "a plan, not a fact" in wall.lower()

    pin = {"code": row.piece.code, "step": "cast", "starts": row.starts_at.isoformat()}
    client.post(reverse("plan-pin"), {**pin, "pinned": "yes"})
    row.refresh_from_db()
    assert row.pinned
    accepted = PlanAccepted.objects.get()
    refused = client.post(reverse("plan-undo", args=[accepted.pk]), follow=True)
    assert "was pinned since" in text(refused)
    client.post(reverse("plan-pin"), {**pin, "pinned": "no"})
    # Unpinned by hand, the cast is no longer as the plan wrote it: the hand counts.
    Piece.objects.get(code=row.piece.code)
    said = text(client.post(reverse("plan-undo", args=[accepted.pk]), follow=True))
    assert "Undone" in said
    assert not PlannedStep.objects.exists()


def test_ticks_stay_when_a_take_is_refused(client, owner) -> None:
    now = timezone.now()
    job = make_job("412")
    date = JobDate(job_id=job.pk, number="412", title="", leaves=now, new=True)
    run = plan_runs.claim(plan_runs.ask(owner).pk, now)
    raw = {"starts_at": now.isoformat(), "steps": [], "held": [], "finish": []}
    plan_runs.ready(run, {"shown": as_json(Shown(planned_from=now, jobs=(date,))), "raw": raw})
    answer = client.post(
        reverse("plan-take", args=[run.pk]), {"take": "some", "jobs": "412", "installs": "yes"}
    )
    assert answer.status_code == 422
    html = re.sub(r"\s+", " ", answer.content.decode())
    assert 'value="412" checked' in html
    assert 'name="installs" value="yes" checked' in html


def test_a_page_of_more_jobs_takes_no_more_queries(client, owner) -> None:
    counts = []
    for jobs in (2, 4):
        a_shop(jobs=jobs) if jobs == 2 else [
            make_piece(make_job(str(500 + n)), area_m2=1.0) for n in range(2)
        ]
        plan_taking.take(run_id=planned(owner).pk, by=owner)
        cache.clear()  # another test's plan may have had the same numbers
        with CaptureQueriesContext(connection) as caught:
            assert client.get(reverse("plan")).status_code == 200
        counts.append(len(caught))
    assert counts[0] == counts[1]


def test_what_is_stored_comes_back_as_it_was() -> None:
    now = timezone.now()
    shown = Shown(
        planned_from=now,
        jobs=(JobDate(job_id=1, number="1", title="x", leaves=None, told=now, moved=("1-A",)),),
        notes=("one",),
    )
    assert from_json(Shown, as_json(shown)) == shown


def test_a_proposal_says_which_install_comes_later_than_the_day_set(client, owner) -> None:
    """300 cannot be cured within two days; 301 can be by a Wednesday in some eight weeks."""
    now, day = timezone.now(), dt.timedelta(days=1)
    local = now.astimezone(Shop.objects.get(pk=1).zone)
    wednesday = (local + (58 - local.weekday()) * day).replace(hour=10, minute=0)
    for job, at in zip(a_shop(2), (now + 2 * day, wednesday), strict=True):
        InstallDate.objects.create(job=job, starts_at=at, hours=1.0)
    said = text(client.get(reverse("plan-proposal", args=[planned(owner).pk])))
    assert "Installs later than the day set with the site 300 Kitchen island: set for" in said
    assert "301 Kitchen island: set for" not in said


def test_a_job_that_has_left_is_not_told_to_leave_again(client, owner) -> None:
    now = timezone.now()
    job = make_job("412", title="Hearth")
    date = JobDate(
        job_id=job.pk, number="412", title="Hearth", leaves=now - dt.timedelta(days=1), state="kept",
        new=True,
    )  # fmt: skip
    run = plan_runs.claim(plan_runs.ask(owner).pk, now)
    plan_runs.ready(
        run, {"shown": as_json(Shown(planned_from=now, jobs=(date,))), "raw": {"steps": []}}
    )
    said = text(client.get(reverse("plan-proposal", args=[run.pk])))
    assert "what is still to do is planned for the first time" in said
    assert said.count("has left") == 3
