"""Ticking off a weigh sheet."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest

from jobs.models import MixerRun, Weighed
from jobs.services.errors import Refused
from jobs.services.mixing import strike_run
from jobs.services.ticks import Unlikely, lot_key, strike_tick, tick
from jobs.services.weigh_sheets import record_of, shown_lines, usual_lots
from shop.models import Person, Role, Shop
from tests.factories import NOW, make_person, make_shop
from tests.jobs.mixing.rows import make_cast, make_recipe, opened

pytestmark = pytest.mark.django_db
MINUTE = dt.timedelta(minutes=1)


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def crew() -> Person:
    return make_person(Role.CREW)


@pytest.fixture
def run(shop: Shop, crew: Person) -> MixerRun:
    make_recipe()
    return opened(make_cast(), crew)


def wanted(run: MixerRun, key: str) -> float:
    return next(row.line.weigh_kg for row in shown_lines(run, make_shop()) if row.key == key)


def ticked(run: MixerRun, by: Person, key: str = "Cement", **fields: object) -> Weighed:
    values = {"kg": wanted(run, key), "at": NOW, "now": NOW, "client_key": uuid.uuid4(), "lot": ""}
    return tick(run_id=run.pk, line=key, by=by, **(values | fields))  # type: ignore[arg-type]


def test_a_tick_sent_twice_is_one(run: MixerRun, crew: Person) -> None:
    key = uuid.uuid4()
    first = ticked(run, crew, client_key=key, lot=" 24-b  117 ")
    again = ticked(run, crew, client_key=key, kg=99.0)
    assert again.pk == first.pk
    assert Weighed.objects.count() == 1
    assert (first.lot, first.lot_key) == ("24-b 117", "24B117")


def test_a_weight_is_shown_against_the_sheet(run: MixerRun, crew: Person) -> None:
    kg = wanted(run, "Cement") * 1.03
    ticked(run, crew, kg=kg)
    line = next(row for row in shown_lines(run, make_shop()) if row.key == "Cement")
    assert line.within is False
    assert line.deviation.endswith("+3.0 %") or line.deviation.endswith("+2.9 %")
    record = record_of(MixerRun.objects.get(pk=run.pk))
    assert [note.key for note in record.notes] == ["weighed-off", "not-weighed"]


@pytest.mark.parametrize("factor", [10.0, 0.1, 2.2046, 0.4536])
def test_a_wild_weight_is_asked_about(run: MixerRun, crew: Person, factor: float) -> None:
    """Ten times off by a slip; 2.2046 times by taking pounds for kilograms."""
    kg = wanted(run, "Cement") * factor
    with pytest.raises(Unlikely) as asked:
        ticked(run, crew, kg=kg)
    assert asked.value.field == "sure"
    assert not Weighed.objects.exists()
    assert ticked(run, crew, kg=kg, sure=True).kg == kg


def test_what_another_weighed_is_asked_about(run: MixerRun, crew: Person) -> None:
    ticked(run, crew)
    other = make_person(Role.CREW, name="Rosa Quill")
    with pytest.raises(Unlikely, match="in the mixer twice"):
        ticked(run, other)
    mended = ticked(run, crew, kg=wanted(run, "Cement") * 1.001)
    line = next(row for row in shown_lines(run, make_shop()) if row.key == "Cement")
    assert line.weighed == mended


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"at": NOW + 5 * MINUTE}, "happened_at"),
        ({"kg": -1.0}, "weight"),
        ({"kg": float("nan")}, "weight"),
        ({"kg": 6000.0}, "weight"),
        ({"kg": 0.0, "sure": True}, "weight"),  # cement
        ({"key": "Gravel", "kg": 1.0}, ""),
    ],
)
def test_what_cannot_be_is_refused(
    run: MixerRun, crew: Person, fields: dict[str, object], field: str
) -> None:
    with pytest.raises(Refused) as refused:
        ticked(run, crew, **fields) if "key" not in fields else tick(
            run_id=run.pk, line="Gravel", kg=1.0, by=crew, client_key=uuid.uuid4(), now=NOW
        )
    assert refused.value.field == field
    assert not isinstance(refused.value, Unlikely)


def test_a_struck_run_takes_nothing(run: MixerRun, crew: Person) -> None:
    strike_run(run_id=run.pk, because="spilled", by=crew, now=NOW)
    with pytest.raises(Refused, match="struck"):
        ticked(run, crew)


def test_a_tick_is_taken_back_by_its_maker_or_the_owner(run: MixerRun, crew: Person) -> None:
    row = ticked(run, crew)
    Weighed.objects.filter(pk=row.pk).update(recorded_at=NOW)
    later = NOW + 11 * MINUTE
    with pytest.raises(Refused):
        strike_tick(weighed_id=row.pk, by=make_person(Role.CREW), now=NOW + MINUTE)
    with pytest.raises(Refused):
        strike_tick(weighed_id=row.pk, by=crew, now=later)
    struck = strike_tick(weighed_id=row.pk, by=make_person(Role.OWNER), now=later)
    assert struck.struck_at == later
    assert all(line.weighed is None for line in shown_lines(run, make_shop()))


def test_the_last_lot_of_a_line_is_offered(run: MixerRun, crew: Person) -> None:
    ticked(run, crew, lot="C-1")
    ticked(run, crew, lot="C-2")
    ticked(run, crew, key="Sand", lot="")
    assert usual_lots(["Cement", "Sand"]) == {"Cement": "C-2"}
    assert lot_key("c 2/ä") == "C2"
