"""Setting, moving and calling off an install."""

from __future__ import annotations

from typing import Any

import pytest

from jobs.models import InstallDate
from tests.factories import DAY, NOW, make_job
from tests.jobs.board.conftest import signed_in, week

PAGE = "/board/jobs/217/install/"


def sent(day: str = "2026-04-09", clock: str = "09:00", **more: Any) -> dict[str, Any]:
    values = {"starts_at_0": day, "starts_at_1": clock, "hours": "4", "people": "2", "note": ""}
    return values | more


def text_of(response) -> str:
    return response.content.decode()


@pytest.fixture
def install(piece):
    return InstallDate.objects.create(job=piece.job, starts_at=NOW + 20 * DAY, hours=3, people=2)


def test_an_install_is_set(as_owner, owner, piece) -> None:
    answer = as_owner.post(PAGE, sent(hours="5,5", people="3", note="lift at the back"))

    install = InstallDate.objects.get()
    assert answer.url == "/board/?week=2026-W15"
    assert (install.hours, install.people, install.set_by) == (5.5, 3, owner)


def test_of_a_job_without_pieces_nothing_is_said_to_be_in_time(as_owner) -> None:
    make_job("217")

    effect = text_of(as_owner.post(f"{PAGE}effect/", sent("2026-04-09")))

    assert "217 has no pieces yet: nothing says when it is ready." in effect
    assert "in time for this install" not in effect


def test_its_effect_shows_before_saving(as_owner, piece) -> None:
    early = as_owner.post(f"{PAGE}effect/", sent("2026-03-20"))
    fine = as_owner.post(f"{PAGE}effect/", sent("2026-04-09"))
    late = as_owner.post(f"{PAGE}effect/", sent("2026-04-20"))

    assert "this install would stand without it" in text_of(early)
    assert "in time for this install" in text_of(fine)
    assert "the customer must be told" in text_of(late)
    assert not InstallDate.objects.exists()


def test_the_effect_shows_without_scripts_too(as_owner, piece) -> None:
    page = as_owner.post(PAGE, sent(show="1", note="kept"))

    assert "in time for this install" in text_of(page)
    assert 'value="kept"' in text_of(page)


def test_the_office_may_set_it_and_the_crew_may_not(office, crew, piece) -> None:
    assert signed_in(crew).post(PAGE, sent()).status_code == 403
    assert signed_in(office).post(PAGE, sent()).status_code == 302


def test_the_week_shows_it(as_owner, piece, install) -> None:
    day = week(as_owner, "?week=2026-W15").context["sheet"].days[1]

    assert [(entry.number, entry.people, entry.hours) for entry in day.installs] == [("217", 2, 3)]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"starts_at_0": "2026-03-01"}, "This time has passed."),
        ({"starts_at_0": "2027-03-14", "starts_at_1": "02:30"}, "does not exist"),
        ({"hours": "0"}, "At least 0.25"),
        ({"hours": "nan"}, "Write a number."),
        ({"hours": "all day"}, "Write a number."),
        ({"people": "-1"}, "At least 1"),
        ({"people": "many"}, "Write a whole number."),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_typed_is_lost(
    as_owner, piece, change: dict[str, str], message: str
) -> None:
    answer = as_owner.post(PAGE, sent(note="by the window") | change)

    assert answer.status_code == 422
    assert message in text_of(answer)
    assert 'value="by the window"' in text_of(answer)
    assert not InstallDate.objects.exists()


def test_the_second_saver_is_told_and_loses_nothing(as_owner, office, piece, install) -> None:
    signed_in(office).post(PAGE, sent(clock="13:15", version=1))

    answer = as_owner.post(PAGE, sent(clock="10:45", people="4", version=1))

    assert answer.status_code == 409
    assert "Petra Lund set this install to Thu 9 Apr 13:15" in text_of(answer)
    assert "now Thu 9 Apr 13:15, yours is Thu 9 Apr 10:45" in text_of(answer)
    assert "now 2, yours is 4" in text_of(answer)
    assert 'value="10:45"' in text_of(answer)

    assert as_owner.post(PAGE, sent(clock="10:45", people="4", version=2)).status_code == 302
    assert InstallDate.objects.get().people == 4


def test_two_who_set_the_first_install_at_once_are_told_too(as_owner, office, piece) -> None:
    signed_in(office).post(PAGE, sent(clock="13:15"))

    assert as_owner.post(PAGE, sent(clock="10:45")).status_code == 409


def test_an_install_that_was_called_off_can_be_set_again(as_owner, install) -> None:
    as_owner.post(f"{PAGE}call-off/", {"version": 1})

    told = as_owner.post(PAGE, sent(version=1, note="mine"))
    again = as_owner.post(PAGE, sent(version=0, note="mine"))

    assert (told.status_code, again.status_code) == (409, 302)
    assert 'value="mine"' in text_of(told)


def test_an_install_can_be_called_off(as_owner, install) -> None:
    page = as_owner.post(f"{PAGE}call-off/", {"version": 1}, follow=True)

    assert not InstallDate.objects.exists()
    assert "Install of 217 called off." in text_of(page)


def test_an_install_that_was_moved_is_not_called_off_unseen(as_owner, install) -> None:
    InstallDate.objects.update(version=2)

    as_owner.post(f"{PAGE}call-off/", {"version": 1})

    assert InstallDate.objects.exists()


@pytest.mark.parametrize("number", ["999", "%00"])
def test_an_install_of_no_job_is_not_found(as_owner, number: str) -> None:
    assert as_owner.get(f"/board/jobs/{number}/install/").status_code == 404
