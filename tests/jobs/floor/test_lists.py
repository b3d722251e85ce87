from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.models import Mark
from jobs.services import readiness
from shop.models import Role, Sealer
from tests.factories import (
    DAY,
    HOUR,
    NOW,
    make_batch,
    make_job,
    make_mark,
    make_person,
    make_piece,
    make_room,
    make_sealer,
)


def _codes(entries):
    return [entry.piece.code for entry in entries]


def test_now_is_what_concrete_and_shift_allow(hand, crew, cured):
    lists = hand(crew).floor().context["lists"]
    assert _codes(lists.now) == ["217-B"]


def test_outside_the_shift_it_is_next_and_not_now(hand, crew, cured, clock):
    clock(NOW + 9 * HOUR)  # 18:00
    lists = hand(crew).floor().context["lists"]
    assert _codes(lists.now) == []
    assert [(day.label, _codes(day.entries)) for day in lists.days] == [("Tomorrow", ["217-B"])]


def test_green_concrete_is_not_yet_while_the_shift_is_on(hand, crew, piece):
    make_mark(piece, "cast", NOW - 14 * HOUR, by=crew)  # 16 h floor, about 20 h at 20 °C asked
    make_room(celsius=30.0)
    answer = hand(crew).floor()
    assert _codes(answer.context["lists"].not_yet) == ["217-B"]
    assert "but the concrete does not allow it yet" in answer.content.decode()


def test_what_it_waits_for_is_shown_with_limit_and_basis(hand, crew, green):
    text = hand(crew).floor().content.decode()
    assert "Route says 2,500 psi; the curve is a placeholder, not this shop&#x27;s tests." in text
    assert "Route says 20 h at 68 °F." in text
    assert "safe" not in text.lower().replace("safety data sheet", "")


def test_a_shop_that_reads_si_gets_megapascals(hand, crew, green):
    from tests.factories import make_shop

    make_shop(units="si")
    assert "Route says 17.2 MPa" in hand(crew).floor().content.decode()


def test_a_held_piece_stands_alone_with_reason_and_name(hand, crew, owner, cured):
    make_mark(cured, "", kind=Mark.Kind.HOLD, reason="Hairline at the edge", by=owner)
    answer = hand(crew).floor()
    assert _codes(answer.context["lists"].on_hold) == ["217-B"]
    assert _codes(answer.context["lists"].now) == []
    assert "Hairline at the edge" in answer.content.decode()
    assert "Olive Trent" in answer.content.decode()


def test_people_come_from_the_weight(hand, crew, piece):
    piece.area_m2 = 4.0
    piece.save()
    make_mark(piece, "cast", NOW - 48 * HOUR, by=crew)
    assert "7 people" in hand(crew).floor().content.decode()  # 158 kg at 22.7 kg a person


def test_cautions_stand_at_the_step_with_their_reference(hand, crew, cured):
    text = hand(crew).floor().content.decode()
    assert "A piece taken out early can break and fall" in text
    assert "ASTM C109" in text


def test_isocyanates_are_named_at_a_two_part_urethane(hand, crew, piece):
    piece.sealer = make_sealer(name="Two-part", two_part_urethane=True)
    piece.save()
    at = NOW - 20 * DAY
    for step in ("cast", "demold", "grind", "fill", "hone"):
        at += DAY
        make_mark(piece, step, at, by=crew)
    assert Sealer.objects.filter(two_part_urethane=True).exists()
    assert "isocyanates can sensitise for life" in hand(crew).floor().content.decode()


def test_a_mark_shows_before_any_worker_came_by(hand, crew, cured):
    readiness.rebuild()
    ben = hand(crew)
    ben.mark(cured, "demold")
    lists = ben.client.get(reverse("floor")).context["lists"]
    assert [(line.code, line.step_name) for line in lists.done_today] == [
        ("217-B", "demold and flip")
    ]
    assert lists.now[0].step.key == "grind"


def test_a_room_narrows_the_lists(hand, crew, cured):
    north = make_room("North bay")
    other = make_piece(make_job("218"), "A", room=north)
    make_mark(other, "cast", NOW - 48 * HOUR, by=crew)
    lists = hand(crew).floor(room=str(north.pk)).context["lists"]
    assert _codes(lists.now) == ["218-A"]


@pytest.mark.parametrize("room", ["x", "-1", "9" * 40, "'; --", "²"])
def test_a_room_that_is_none_shows_all(hand, crew, cured, room):
    answer = hand(crew).floor(room=room)
    assert answer.status_code == 200
    assert _codes(answer.context["lists"].now) == ["217-B"]


@pytest.mark.parametrize("typed", ["217-B", "217b", " 217 b ", "217-b"])
def test_a_code_opens_its_piece(hand, crew, cured, typed):
    answer = hand(crew).floor(code=typed)
    assert answer["Location"] == reverse("piece", args=["217-B"])


def test_a_job_number_narrows_to_its_pieces(hand, crew, cured):
    make_mark(make_piece(make_job("218"), "A"), "cast", NOW - 48 * HOUR, by=crew)
    lists = hand(crew).floor(code="217").context["lists"]
    assert _codes(lists.now) == ["217-B"]


def test_an_unknown_code_says_so_and_stays_typed(hand, crew, cured):
    text = hand(crew).floor(code="<i>999").content.decode()
    assert "No open piece has a code like &lt;i&gt;999" in text
    assert 'value="&lt;i&gt;999"' in text


def _token(answer):
    return answer.context["lists"].token


def _ask(hand, token):
    return hand.client.get(reverse("floor"), {"have": token}, headers={"HX-Request": "true"})


def test_a_page_that_is_up_to_date_gets_nothing(hand, crew, cured):
    ben = hand(crew)
    ben.floor()
    token = _token(ben.client.get(reverse("floor")))
    assert _ask(ben, token).status_code == 204


def test_a_new_mark_refreshes_the_page(hand, crew, other, cured):
    ben = hand(crew)
    token = _token(ben.floor())
    hand(other).mark(cured, "demold")
    assert _ask(ben, token).status_code == 200


def test_a_new_edition_refreshes_the_page(hand, crew, cured):
    ben = hand(crew)
    token = _token(ben.floor())
    make_batch(make_piece(make_job("219"), "A"), planned_for=NOW + HOUR)
    readiness.rebuild()
    assert _ask(ben, token).status_code == 200


def test_the_clock_alone_refreshes_the_page_when_a_step_comes_due(hand, crew, green, clock):
    ben = hand(crew)
    ben.floor()
    answer = ben.client.get(reverse("floor"))
    token = _token(answer)
    clock(NOW + dt.timedelta(minutes=1))
    assert _ask(ben, token).status_code == 204
    entry = answer.context["lists"].days[0].entries[0]
    clock(entry.step.earliest + dt.timedelta(minutes=1))
    assert _ask(ben, token).status_code == 200


@pytest.mark.parametrize("token", ["", "x", "1.2", "1.2.x", "²", "9" * 400 + ".1.1"])
def test_a_token_nobody_gave_out_gets_the_list(hand, crew, cured, token):
    ben = hand(crew)
    ben.floor()
    assert _ask(ben, token).status_code == 200


def _add_jobs(count: int, crew) -> None:
    for number in range(count):
        job = make_job(f"J{number + Mark.objects.count()}x{number}")
        make_mark(make_piece(job, "A"), "cast", NOW - 48 * HOUR, by=crew)
        make_batch(make_piece(job, "B"), planned_for=NOW + HOUR)


def test_twenty_jobs_take_as_many_queries_as_ten(hand, crew):
    make_person(Role.OWNER)
    ben, counts = hand(crew), []
    for _ in range(2):
        _add_jobs(10, crew)
        readiness.rebuild()
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert ben.client.get(reverse("floor")).status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_jobs_behind_their_marks_take_as_many_queries_too(hand, crew):
    ben, counts = hand(crew), []
    _add_jobs(10, crew)
    cast = list(Mark.objects.filter(step_key="cast").values_list("piece", flat=True))
    for take in (1, 10):
        Mark.objects.filter(step_key="demold").delete()
        readiness.rebuild()
        for piece in cast[:take]:
            Mark.objects.create(
                piece_id=piece, step_key="demold", step_name="demold", happened_at=NOW, by=crew
            )
        with CaptureQueriesContext(connection) as queries:
            ben.client.get(reverse("floor"))
        counts.append(len(queries))
    assert counts[0] == counts[1]
