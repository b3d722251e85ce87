from __future__ import annotations

import datetime as dt
import uuid

from django.urls import reverse

from jobs.models import Mark
from shop.models import Role
from tests.factories import HOUR, NOW, make_mark, make_person
from tests.jobs.floor.conftest import SWAP


def test_one_tap_records_who_and_when(hand, crew, cured):
    answer = hand(crew).mark(cured, "demold")
    assert answer.status_code == 302
    mark = Mark.objects.get(piece=cured, step_key="demold")
    assert (mark.by, mark.happened_at, mark.early_before) == (crew, NOW, None)


def test_without_scripts_the_next_page_says_what_was_recorded(hand, crew, cured):
    ben = hand(crew)
    answer = ben.client.get(ben.mark(cured, "demold")["Location"])
    assert "Recorded: 217-B demold and flip, Wed 18 Mar 09:00." in answer.content.decode()


def test_a_swap_answers_with_the_card_and_its_take_back_button(hand, crew, cured):
    answer = hand(crew).mark(cured, "demold", headers=SWAP)
    text = answer.content.decode()
    assert text.lstrip().startswith('<article id="piece-217-B"')
    assert "Take back" in text
    assert "<html" not in text


def test_the_same_key_twice_is_one_mark(hand, crew, cured):
    ben, key = hand(crew), str(uuid.uuid4())
    for _ in range(2):
        assert ben.mark(cured, "demold", client_key=key).status_code == 302
    assert Mark.objects.filter(piece=cured, step_key="demold").count() == 1


def test_an_early_step_asks_for_a_reason_and_records_nothing(hand, crew, green):
    answer = hand(crew).mark(green, "demold", headers=SWAP)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "Not before" in text
    assert "write why" in text
    assert not Mark.objects.filter(step_key="demold").exists()


def test_an_early_step_with_a_reason_is_recorded_with_it(hand, crew, green):
    assert hand(crew).mark(green, "demold", reason="Form was leaking").status_code == 302
    mark = Mark.objects.get(step_key="demold")
    assert mark.reason == "Form was leaking"
    assert mark.early_before > NOW


def test_a_done_earlier_time_is_taken(hand, crew, cured):
    hand(crew).mark(cured, "demold", happened_at_0="2026-03-17", happened_at_1="14:10")
    mark = Mark.objects.get(step_key="demold")
    assert mark.happened_at == dt.datetime(2026, 3, 17, 19, 10, tzinfo=dt.UTC)


def test_today_without_a_clock_time_means_now(hand, crew, cured):
    hand(crew).mark(cured, "demold", happened_at_0="2026-03-18", happened_at_1="")
    assert Mark.objects.get(step_key="demold").happened_at == NOW


def test_another_day_without_a_clock_time_asks_for_it(hand, crew, cured):
    answer = hand(crew).mark(
        cured, "demold", happened_at_0="2026-03-17", reason="typed before", headers=SWAP
    )
    assert answer.status_code == 422
    assert "typed before" in answer.content.decode()
    assert not Mark.objects.filter(step_key="demold").exists()


def test_a_time_to_come_is_refused_and_what_was_typed_stays(hand, crew, cured):
    answer = hand(crew).mark(
        cured, "demold", happened_at_0="2026-03-18", happened_at_1="16:00", reason="late shift"
    )
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "has not come yet" in text
    assert 'value="16:00"' in text
    assert "late shift" in text


def test_a_clock_time_that_the_night_skips_is_refused(hand, crew, cured):
    answer = hand(crew).mark(cured, "demold", happened_at_0="2026-03-08", happened_at_1="02:30")
    assert answer.status_code == 422
    assert "does not exist" in answer.content.decode()


def test_a_step_out_of_order_names_the_missing_one(hand, crew, cured):
    answer = hand(crew).mark(cured, "grind", headers=SWAP)
    assert answer.status_code == 422
    assert "demold and flip is not marked yet" in answer.content.decode()


def test_a_step_marked_by_somebody_else_says_who_and_when(hand, crew, other, cured):
    make_mark(cured, "demold", NOW - HOUR, by=other)
    answer = hand(crew).mark(cured, "demold", headers=SWAP)
    assert answer.status_code == 422
    assert "already marked by Ida Marsh, Wed 18 Mar 08:00" in answer.content.decode()


def test_a_step_the_route_does_not_have_changes_nothing(hand, crew, cured):
    answer = hand(crew).mark(cured, "<b>polish", headers=SWAP)
    assert answer.status_code == 422
    assert "<b>polish" not in answer.content.decode()
    assert Mark.objects.count() == 1


def test_a_broken_key_changes_nothing(hand, crew, cured):
    answer = hand(crew).mark(cured, "demold", client_key="not-a-key", headers=SWAP)
    assert answer.status_code == 422
    assert Mark.objects.count() == 1


def test_a_reason_of_a_thousand_letters_is_refused_not_cut(hand, crew, green):
    answer = hand(crew).mark(green, "demold", reason="x" * 1000, headers=SWAP)
    assert answer.status_code == 422
    assert Mark.objects.count() == 1


def test_an_unknown_piece_is_not_here(hand, crew):
    answer = hand(crew).client.post(reverse("floor-mark", args=["999-Z"]))
    assert answer.status_code == 404


def test_the_office_looks_but_does_not_mark(hand, cured):
    office = hand(make_person(Role.OFFICE))
    assert office.floor().status_code == 200
    assert "Mark demolded" not in office.floor().content.decode()
    assert office.mark(cured, "demold").status_code == 403
    assert not Mark.objects.filter(step_key="demold").exists()


def test_nobody_marks_without_signing_in(client, cured):
    answer = client.post(reverse("floor-mark", args=[cured.code]), {"step_key": "demold"})
    assert answer.status_code == 302
    assert reverse("sign-in") in answer["Location"]
