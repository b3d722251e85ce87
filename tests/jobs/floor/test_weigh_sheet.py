"""A run's weigh sheet on the floor: ticked line by line, once, off tolerance said, taken back."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.models import MixerRun, Weighed
from jobs.services.last_lots import last_lots
from jobs.services.mixing import open_run, strike_run
from jobs.services.run_record import save_record
from jobs.services.ticks import tick
from jobs.services.weigh_sheets import ShownLine, shown_lines
from shop.models import Role
from tests import factories
from tests.factories import (
    HOUR,
    NOW,
    make_batch,
    make_job,
    make_person,
    make_piece,
    make_recipe,
    make_shop,
)
from tests.jobs.floor.conftest import KEPT, Hand
from tests.shop.setup.helpers import text, typed

pytestmark = pytest.mark.django_db

LB = 0.45359237
SWAPPED = {"HX-Request": "true", "HX-Target": "floor-list"}


@pytest.fixture
def run(crew) -> MixerRun:
    make_recipe()
    batch = make_batch(make_piece(make_job("217"), "A", area_m2=1.5))
    return open_run(batch_id=batch.pk, number=1, moisture={"Silica sand": 0.03}, by=crew)


def line(run: MixerRun, name: str) -> ShownLine:
    run = MixerRun.objects.get(pk=run.pk)
    return next(one for one in shown_lines(run, make_shop()) if one.name == name)


def sheet(run: MixerRun) -> str:
    return reverse("floor-run", args=[run.pk])


def send(hand: Hand, run: MixerRun, name: str, headers: Any = None, **sent: str) -> Any:
    sent = {"line": line(run, name).key, "client_key": str(uuid.uuid4()), **sent}
    return hand.client.post(reverse("floor-tick", args=[run.pk]), sent, headers=headers or {})


def test_the_lines_stand_in_the_order_of_adding_with_amount_and_tolerance(hand, crew, run):
    page = hand(crew).client.get(sheet(run))
    said = text(page)
    body = page.content.decode()
    names = ["Water", "Acrylic polymer", "Plasticizer", "Silica sand", "White cement", "Metakaolin"]
    places = [body.index(f'class="name">{name}') for name in names]
    assert places == sorted(places)
    for one in shown_lines(run, make_shop()):
        assert one.amount.split()[0] in said
        assert one.tolerance in said
    assert "Silica sand at 3 % moisture" in said
    assert "1.5 % of the batch water" in said
    # The small scale shows grams, the large one pounds.
    assert line(run, "Plasticizer").unit == "g"
    assert line(run, "White cement").unit == "lb"
    # No weight is filled in for anybody.
    assert typed(page, reverse("floor-tick", args=[run.pk]))["weight"] == ""


def test_one_press_ticks_the_wanted_amount_with_its_lot(hand, crew, run):
    wanted = line(run, "White cement")
    answer = send(hand(crew), run, "White cement", SWAPPED, as_wanted="yes", lot="c-17 04")
    assert answer.status_code == 200
    row = Weighed.objects.get()
    assert row.kg == pytest.approx(wanted.line.weigh_kg)
    assert (row.lot, row.by, row.at) == ("c-17 04", crew, NOW)
    said = text(answer)
    assert f"Recorded: White cement, {wanted.amount}." in said
    assert "1/" in said
    assert 'id="floor-list"' in answer.content.decode()[:200]


def test_what_the_scale_showed_is_typed_in_its_unit(hand, crew, run):
    wanted = line(run, "White cement").scale.number(line(run, "White cement").line.weigh_kg)
    send(hand(crew), run, "White cement", weight=f"{wanted + 0.05:.2f}".replace(".", ","))
    assert Weighed.objects.get().kg == pytest.approx((wanted + 0.05) * LB)
    send(hand(crew), run, "Plasticizer", weight=line(run, "Plasticizer").digits + " g")
    last = Weighed.objects.last()
    assert last.kg == pytest.approx(line(run, "Plasticizer").line.weigh_kg)


def test_the_total_runs_and_what_is_left_shrinks(hand, crew, run):
    lines = shown_lines(run, make_shop())
    for one in lines[:2]:
        send(hand(crew), run, one.name, as_wanted="yes")
    said = text(hand(crew).client.get(sheet(run)))
    done = sum(one.line.weigh_kg for one in lines[:2]) / LB
    left = sum(one.line.weigh_kg for one in lines[2:]) / LB
    assert f"2/{len(lines)} weighed {done:.1f} lb in all {left:.1f} lb left" in said


@pytest.mark.parametrize(
    ("factor", "said"),
    [
        (1.05, "too much; ± "),
        (0.95, "too little; ± "),
        (1.002, None),
    ],
)
def test_off_tolerance_is_said_at_once_with_what_to_do(hand, crew, run, factor, said):
    # 1 % of cement (ASTM C94): 5 % is off it, 0.2 % is not.
    wanted = line(run, "White cement")
    weight = wanted.scale.number(wanted.line.exact_kg) * factor
    answer = send(hand(crew), run, "White cement", SWAPPED, weight=f"{weight:.3f}")
    words = text(answer)
    assert ("Off tolerance." in words) is (said is not None)
    if said:
        assert said in words
        assert "data-focus" in answer.content.decode()
    if factor > 1.01:
        assert "take it out and weigh again" in words


def test_too_much_water_says_what_it_does(hand, crew, run):
    water = line(run, "Water")
    weight = water.scale.number(water.line.exact_kg) * 1.1
    said = text(send(hand(crew), run, "Water", SWAPPED, weight=f"{weight:.3f}"))
    assert "More water makes it weaker." in said


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({}, "Write what the scale shows, or press As wanted."),
        ({"weight": "ten"}, "is not what a scale shows"),
        ({"weight": "-4"}, "is not what a scale shows"),
        ({"weight": "12 °F"}, "is not what a scale shows"),
        ({"weight": "nan"}, "is not what a scale shows"),
        ({"weight": "20", "as_wanted": "yes"}, "Keep one of them"),
        ({"as_wanted": "yes", "lot": "L" * 80}, "At most 60"),
        ({"weight": "0.1"}, "Is it the right unit"),
    ],
)
def test_what_cannot_be_is_said_at_its_line_and_stays(hand, crew, run, sent, said):
    answer = send(hand(crew), run, "White cement", SWAPPED, **sent)
    assert answer.status_code == 422
    assert said in text(answer)
    body = answer.content.decode()
    if "weight" in sent:
        assert f'value="{sent["weight"]}"' in body
    assert not Weighed.objects.exists()


def test_an_unlikely_weight_is_taken_once_somebody_looked_again(hand, crew, run):
    asked = send(hand(crew), run, "White cement", SWAPPED, weight="1")
    assert 'name="sure"' in asked.content.decode()
    assert send(hand(crew), run, "White cement", SWAPPED, weight="1", sure="on").status_code == 200
    assert Weighed.objects.get().kg == pytest.approx(LB)


def test_a_line_that_another_weighed_asks_first(hand, crew, other, run):
    send(hand(other), run, "White cement", as_wanted="yes")
    answer = send(hand(crew), run, "White cement", SWAPPED, as_wanted="yes")
    assert answer.status_code == 422
    assert "Ida Marsh weighed White cement" in text(answer)


def test_a_line_that_is_not_on_the_sheet_is_refused(hand, crew, run):
    answer = hand(crew).client.post(
        reverse("floor-tick", args=[run.pk]),
        {"line": "Beach sand", "client_key": str(uuid.uuid4()), "as_wanted": "yes"},
    )
    assert answer.status_code == 422
    assert "not on the sheet" in text(answer)


def test_a_kept_tick_counts_from_its_tap_and_only_once(hand, crew, run):
    key = str(uuid.uuid4())
    for _ in range(2):
        answer = send(
            hand(crew), run, "Water", KEPT, as_wanted="yes", client_key=key, kept_seconds="1800"
        )
        assert answer.json()["state"] == "recorded"
    assert Weighed.objects.get().at == NOW - HOUR / 2


def test_a_kept_tick_that_is_refused_says_why(hand, crew, run):
    strike_run(run_id=run.pk, because="Spilled", by=crew)
    answer = send(hand(crew), run, "Water", KEPT, as_wanted="yes")
    assert answer.status_code == 422
    assert answer.json()["state"] == "refused"
    assert "struck meanwhile" in answer.json()["message"]


def test_a_kept_tick_that_is_unlikely_may_be_sent_again_as_it_is(hand, crew, run):
    key = str(uuid.uuid4())
    kept = {"weight": "1", "client_key": key, "kept_seconds": "600"}
    said = send(hand(crew), run, "White cement", KEPT, **kept).json()
    assert "Is it the right unit" in said["message"]
    assert (said["asks"], said["confirm"]) == (False, {"sure": "on"})
    answer = send(hand(crew), run, "White cement", KEPT, **kept, **said["confirm"])
    assert answer.json()["state"] == "recorded"
    row = Weighed.objects.get()
    assert (row.kg, row.at) == (pytest.approx(LB), NOW - HOUR / 6)


def test_a_kept_tick_that_cannot_be_asks_for_nothing(hand, crew, run):
    for sent in ({"weight": "ten"}, {"weight": "0"}):
        said = send(hand(crew), run, "White cement", KEPT, **sent).json()
        assert (said["asks"], said["confirm"]) == (False, None)


def test_a_tick_is_taken_back_and_the_line_waits_again(hand, crew, run):
    send(hand(crew), run, "Water", as_wanted="yes")
    row = Weighed.objects.get()
    page = hand(crew).client.get(sheet(run))
    address = reverse("floor-strike-tick", args=[row.pk])
    assert address in page.content.decode()
    answer = hand(crew).client.post(address, {"client_key": str(uuid.uuid4())}, headers=SWAPPED)
    assert "Taken back: Water." in text(answer)
    assert line(run, "Water").weighed is None
    row.refresh_from_db()
    assert row.struck_by == crew


def test_after_ten_minutes_only_the_owner_takes_it_back(hand, crew, owner, run, clock):
    send(hand(crew), run, "Water", as_wanted="yes")
    Weighed.objects.update(recorded_at=NOW - HOUR)
    row = Weighed.objects.get()
    address = reverse("floor-strike-tick", args=[row.pk])
    assert address not in hand(crew).client.get(sheet(run)).content.decode()
    assert "Weigh it again" in text(hand(crew).client.get(sheet(run)))
    answer = hand(crew).client.post(address, {"client_key": str(uuid.uuid4())}, headers=SWAPPED)
    assert answer.status_code == 422
    assert "Ask the owner" in text(answer)
    assert address in hand(owner).client.get(sheet(run)).content.decode()


def test_the_last_lots_are_offered_and_the_last_one_stands_ready(hand, crew, run):
    for lot in ("A 1", "A 2", "a-1", "A 3", "A 4"):
        tick(run_id=run.pk, line="White cement", kg=line(run, "White cement").line.weigh_kg,
             lot=lot, by=crew, client_key=uuid.uuid4(), sure=True)  # fmt: skip
    # Newest first, a lot once however it was written, three at the most.
    assert last_lots({"White cement", "Water"}) == {"White cement": ["A 4", "A 3", "a-1"]}
    fibre = line(run, "AR glass fibre")
    tick(run_id=run.pk, line=fibre.key, kg=fibre.line.weigh_kg, lot="F 9", by=crew,
         client_key=uuid.uuid4())  # fmt: skip
    # Fibre is one component whatever layer it was weighed for.
    assert last_lots({"AR glass fibre"}) == {"AR glass fibre": ["F 9"]}
    body = hand(crew).client.get(sheet(run)).content.decode()
    assert '<option value="A 3">' in body
    assert 'name="lot" value="F 9"' in body


def test_nothing_new_is_nothing_sent(hand, crew, run):
    client = hand(crew).client
    page = client.get(sheet(run)).content.decode()
    token = page.split("?have=")[1].split('"')[0]
    live = {"HX-Request": "true"}
    assert client.get(sheet(run), {"have": token}, headers=live).status_code == 204
    send(hand(crew), run, "Water", as_wanted="yes")
    assert client.get(sheet(run), {"have": token}, headers=live).status_code == 200


def test_when_all_is_weighed_the_cast_is_next(hand, crew, run):
    for one in shown_lines(run, make_shop()):
        sent = {"line": one.key, "client_key": str(uuid.uuid4()), "as_wanted": "yes"}
        hand(crew).client.post(reverse("floor-tick", args=[run.pk]), sent)
    page = hand(crew).client.get(sheet(run))
    assert "All weighed" in text(page)
    assert f"#batch-{run.batch_id}" in page.content.decode()
    # Two layers of one matrix: how much each takes.
    assert "Of the mixed matrix" in text(page)


class TestAddedWater:
    def add(self, hand: Hand, run: MixerRun, **sent: str) -> Any:
        run = MixerRun.objects.get(pk=run.pk)
        values = {"version": str(run.version), "client_key": str(uuid.uuid4()), **sent}
        return hand.client.post(reverse("floor-added", args=[run.pk]), values, headers=SWAPPED)

    def test_it_is_written_with_its_reason(self, hand, crew, run):
        answer = self.add(hand(crew), run, added="1.5", why="half of it ice, stiff")
        assert answer.status_code == 200
        run.refresh_from_db()
        assert run.added_water_kg == pytest.approx(1.5 * LB)
        assert (run.added_why, run.recorded_by) == ("half of it ice, stiff", crew)
        assert "Added while mixing: 1.5 lb: half of it ice, stiff" in text(answer)

    @pytest.mark.parametrize(
        ("sent", "said"),
        [
            ({"added": "1.5"}, "what was added, and why"),
            ({"added": "", "why": "stiff"}, "Fill this in"),
            ({"added": "600", "why": "stiff"}, "At most"),
            ({"added": "-1", "why": "stiff"}, "At least"),
        ],
    )
    def test_what_cannot_be_is_said_and_stays(self, hand, crew, run, sent, said):
        answer = self.add(hand(crew), run, **sent)
        assert answer.status_code == 422
        assert said in text(answer)
        assert all(
            f'value="{value}"' in answer.content.decode() for value in sent.values() if value
        )
        run.refresh_from_db()
        assert run.added_water_kg == 0

    def test_sent_twice_it_counts_once_and_another_s_is_not_overwritten(
        self, hand, crew, other, run
    ):
        version = str(run.version)
        for _ in range(2):
            answer = self.add(hand(crew), run, added="1", why="stiff", version=version)
            assert answer.status_code == 200
        answer = self.add(hand(other), run, added="2", why="ice", version=version)
        assert answer.status_code == 422
        assert "What stands now: 1.0 lb: stiff" in text(answer)
        address = reverse("floor-added", args=[run.pk])
        again = typed(hand(other).client.get(sheet(run)), address, added="3", why="stiff, then ice")
        assert hand(other).client.post(address, again).status_code == 302
        run.refresh_from_db()
        assert run.added_water_kg == pytest.approx(3 * LB)

    def test_two_that_one_phone_kept_are_both_taken(self, hand, crew, run):
        page = hand(crew).client.get(sheet(run))
        address = reverse("floor-added", args=[run.pk])
        for added, why in (("0.5", "stiff"), ("1.25", "stiff, then ice")):
            sent = typed(page, address, added=added, why=why, client_key=str(uuid.uuid4()))
            answer = hand(crew).client.post(address, sent, headers=KEPT)
            assert answer.json()["state"] == "recorded"
        run.refresh_from_db()
        assert run.added_water_kg == pytest.approx(1.25 * LB)
        # Less than what stands is no addition, even one's own.
        sent = typed(page, address, added="0.5", why="stiff", client_key=str(uuid.uuid4()))
        assert hand(crew).client.post(address, sent, headers=KEPT).status_code == 422

    def test_what_the_office_wrote_beside_it_is_no_conflict(self, hand, crew, owner, run):
        page = hand(crew).client.get(sheet(run))
        save_record(run_id=run.pk, version=run.version, values={"note": "late"}, by=owner)
        address = reverse("floor-added", args=[run.pk])
        sent = typed(page, address, added="0.5", why="stiff")
        assert hand(crew).client.post(address, sent, headers=KEPT).status_code == 200
        run.refresh_from_db()
        assert (run.note, run.added_why) == ("late", "stiff")

    def test_a_kept_one_says_what_stands_and_may_be_sent_all_the_same(self, hand, crew, other, run):
        page = hand(crew).client.get(sheet(run))
        self.add(hand(other), run, added="2", why="ice")
        address = reverse("floor-added", args=[run.pk])
        sent = typed(page, address, added="3", why="ice and water")
        said = hand(crew).client.post(address, sent, headers=KEPT).json()
        assert "What stands now: 2.0 lb: ice" in said["message"]
        sent |= said["confirm"]
        assert hand(crew).client.post(address, sent, headers=KEPT).status_code == 200
        run.refresh_from_db()
        assert run.added_water_kg == pytest.approx(3 * LB)

    def test_a_kept_one_without_a_reason_says_so(self, hand, crew, run):
        page = hand(crew).client.get(sheet(run))
        address = reverse("floor-added", args=[run.pk])
        sent = typed(page, address, added="3", why="")
        said = hand(crew).client.post(address, sent, headers=KEPT).json()
        assert "what was added, and why" in said["message"]
        assert said["confirm"] is None


def test_the_office_reads_the_sheet_and_ticks_nothing(hand, run):
    office = hand(make_person(Role.OFFICE))
    said = text(office.client.get(sheet(run)))
    assert "White cement" in said
    assert "As wanted" not in said
    assert send(office, run, "Water", as_wanted="yes").status_code == 403


def test_a_sheet_that_is_not_there(hand, crew):
    assert hand(crew).client.get(reverse("floor-run", args=[77])).status_code == 404
    assert hand(crew).client.post(reverse("floor-added", args=[77])).status_code == 404


def test_more_ticks_take_no_more_queries(hand, crew, run):
    client = hand(crew).client

    def queries() -> int:
        client.get(sheet(run))
        with CaptureQueriesContext(connection) as seen:
            client.get(sheet(run))
        return len(seen)

    send(hand(crew), run, "Water", as_wanted="yes", lot="W 1")
    few = queries()
    for one in shown_lines(run, make_shop()):
        factories_key = uuid.uuid4()
        tick(run_id=run.pk, line=one.key, kg=one.line.weigh_kg, lot="X 1", by=crew,
             client_key=factories_key)  # fmt: skip
    assert queries() == few


def test_a_spanish_speaker_reads_the_sheet_in_spanish(hand, run):
    marisol = hand(factories.make_person(Role.CREW, name="Marisol Quint", language="es"))
    said = text(marisol.client.get(sheet(run)))
    for words in ("Arena sílica", "Como se pide", "Lote", "faltan", "Cemento blanco"):
        assert words in said
    answer = send(marisol, run, "Plasticizer", SWAPPED, weight="0.001")
    assert "pide" in text(answer)
    wanted = line(run, "White cement")
    weight = f"{wanted.scale.number(wanted.line.exact_kg) * 1.05:.3f}"
    said = text(send(marisol, run, "White cement", SWAPPED, weight=weight))
    assert "Fuera de tolerancia." in said
    assert "Off tolerance" not in said
    # A component is called the same in a refusal, and when it is taken back.
    send(marisol, run, "Silica sand", as_wanted="yes")
    row = Weighed.objects.last()
    client_key = {"client_key": str(uuid.uuid4())}
    address = reverse("floor-strike-tick", args=[row.pk])
    assert "Arena sílica" in text(marisol.client.post(address, client_key, headers=SWAPPED))
    said = text(send(marisol, run, "Silica sand", SWAPPED, weight="1"))
    assert "1.00 lb de Arena sílica" in said


def test_nothing_off_has_no_sign(run, crew):
    wanted = line(run, "White cement")
    tick(run_id=run.pk, line=wanted.key, kg=wanted.line.exact_kg * (1 - 1e-6), by=crew,
         client_key=uuid.uuid4())  # fmt: skip
    assert line(run, "White cement").deviation.endswith(", 0.0 %")
