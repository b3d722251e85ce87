"""Boxes laid on tables, and waiting pieces proposed as casts."""

from __future__ import annotations

import datetime as dt
from itertools import combinations

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.models import Piece
from jobs.services.laying import Box, Lay, Table, fits_one, lay
from jobs.services.readiness import rebuild
from jobs.services.together import WALL, Proposal, box_of, propose
from shop.models import CastingTable, Role, Shop
from tests.factories import (
    NOW,
    make_batch,
    make_job,
    make_mark,
    make_mix,
    make_person,
    make_piece,
    make_room,
    make_shop,
    make_working_week,
)

DAY = dt.timedelta(days=1)
FOOT = 0.3048
# NOW is a Wednesday morning: the next working day is Thursday.
THURSDAY, FRIDAY, MONDAY = (NOW.date() + n * DAY for n in (1, 2, 5))

SIZES = st.floats(0.05, 3.5)


@settings(deadline=None, max_examples=150)
@given(
    boxes=st.lists(st.tuples(SIZES, SIZES), max_size=12),
    tables=st.lists(st.tuples(SIZES, SIZES), max_size=3),
)
def test_boxes_lie_within_their_tables_and_never_on_one_another(
    boxes: list[tuple[float, float]], tables: list[tuple[float, float]]
) -> None:
    beds = {f"T{n}": Table(f"T{n}", *size) for n, size in enumerate(tables)}
    given_boxes = [Box(f"B{n}", *size) for n, size in enumerate(boxes)]
    found = lay(given_boxes, list(beds.values()))
    assert sorted(b.name for b in (*(one.box for one in found.laid), *found.left)) == sorted(
        b.name for b in given_boxes
    )
    for one in found.laid:
        bed = beds[one.table]
        assert one.x + one.along <= bed.length + 1e-6
        assert one.y + one.across <= bed.width + 1e-6
        assert {one.along, one.across} == {one.box.length, one.box.width}
    for one, other in combinations(found.laid, 2):
        if one.table == other.table:
            wide = min(one.x + one.along, other.x + other.along) - max(one.x, other.x)
            deep = min(one.y + one.across, other.y + other.across) - max(one.y, other.y)
            assert min(wide, deep) <= 1e-6, (one, other)
    # One that fits a table by itself is only left where others took the room.
    if len(boxes) == 1 and found.left:
        assert not fits_one(found.left[0], list(beds.values()))


def test_four_quarters_fill_a_table_to_the_edge() -> None:
    """5 x 10 ft takes four of 5 x 2.5 ft, each turned."""
    boxes = [Box(str(n), 5 * FOOT, 2.5 * FOOT) for n in range(4)]
    found = lay(boxes, [Table("T", 10 * FOOT, 5 * FOOT)])
    assert not found.left
    assert lay([*boxes, Box("4", 0.1, 0.1)], [Table("T", 10 * FOOT, 5 * FOOT)]).left
    assert Lay((), ()).tables == []


@pytest.fixture
def shop(db: None) -> Shop:
    make_working_week()
    return make_shop(mixer_kg=68.0)


def table(name: str = "Table 1", length: float = 10 * FOOT, width: float = 5 * FOOT) -> None:
    CastingTable.objects.create(name=name, room=make_room(), length_m=length, width_m=width)


def waiting(number: str, area: float = 0.5, letters: str = "A", **fields: object) -> list[Piece]:
    promised = fields.pop("promised_on", dt.date(2026, 4, 10))
    job = make_job(number, promised)  # type: ignore[arg-type]
    return [make_piece(job, letter, area_m2=area, **fields) for letter in letters]


def proposed(shop: Shop) -> Proposal:
    rebuild(NOW)
    return propose(shop, NOW)


def told(proposal: Proposal) -> list[tuple[str, dt.date | None]]:
    return [(group.codes, group.day) for group in proposal.groups]


def test_pieces_share_a_cast_where_that_saves_a_run(shop: Shop) -> None:
    """0.5 m² x 19 mm with waste weighs 22 kg: two share the 68 kg of the mixer, three do, too."""
    table()
    waiting("301")
    waiting("302")
    waiting("303", mix=make_mix(name="Charcoal premix"))
    assert told(proposed(shop)) == [("301-A, 302-A", THURSDAY), ("303-A", FRIDAY)]


def test_a_promise_far_off_waits_for_its_own(shop: Shop) -> None:
    table()
    waiting("301")
    waiting("302", promised_on=dt.date(2026, 5, 10))
    assert [codes for codes, _day in told(proposed(shop))] == ["301-A", "302-A"]


def test_what_must_match_stays_together_though_it_fills_runs_of_its_own(shop: Shop) -> None:
    table()
    waiting("301", area=1.2, letters="AB")
    groups = proposed(shop).groups
    assert [group.codes for group in groups] == ["301-A, 301-B"]
    assert "split-by-layer" in [note.key for note in groups[0].notes]


def test_a_table_takes_one_cast_a_day_and_a_weekend_none(shop: Shop) -> None:
    """A cast that is set holds the table on Thursday; Friday is the first, then Monday."""
    table()
    make_batch(*waiting("299"), planned_for=NOW + DAY)
    waiting("301", area=1.5)
    waiting("302", area=1.5)
    assert [day for _codes, day in told(proposed(shop))] == [FRIDAY, MONDAY]


def test_a_piece_larger_than_every_table_is_named(shop: Shop) -> None:
    table()
    long = {"outline": "rectangle", "length": 3.1, "width": 0.6}
    waiting("301", shape=long)
    group = proposed(shop).groups[0]
    assert group.too_large == ["301-A"]
    assert box_of(group.pieces[0]).length == pytest.approx(3.1 + 2 * WALL)


def test_a_cast_that_fits_no_day_says_so(shop: Shop) -> None:
    """Each lies on the table by itself, 1.34 x 0.75 m with its form; both are 1.5 m deep."""
    table(length=1.45, width=1.4)
    waiting("301", area=0.8, letters="AB")
    group = proposed(shop).groups[0]
    assert (group.day, group.lay, group.too_large) == (None, None, [])


def test_a_held_piece_and_one_with_a_cast_are_left_out(shop: Shop) -> None:
    table()
    (held,) = waiting("301")
    make_mark(held, "", kind="hold", reason="template is wrong")
    make_batch(*waiting("302"), planned_for=NOW + 3 * DAY)
    found = proposed(shop)
    assert (found.groups, found.held) == ((), ("301-A",))


def test_without_tables_a_day_takes_one_cast(shop: Shop, client: Client) -> None:
    waiting("301", area=1.5)
    waiting("302", area=1.5)
    assert [day for _codes, day in told(proposed(shop))] == [THURSDAY, FRIDAY]


def test_the_page_leads_to_the_casts_form_with_pieces_and_day(shop: Shop, client: Client) -> None:
    owner = make_person(Role.OWNER)
    client.force_login(owner, "django.contrib.auth.backends.ModelBackend")
    assert (
        "Every piece that waits has its cast"
        in client.get(reverse("mixing-together")).content.decode()
    )
    (piece,) = waiting("301", promised_on=None)
    text = client.get(reverse("mixing-together")).content.decode()
    assert f"?pieces={piece.pk}&amp;day=" in text
    assert "No casting table is entered" in text
    day = dt.datetime.now(tz=shop.zone).date() + 9 * DAY
    while day.weekday() > 4:
        day += DAY
    form = client.get(reverse("cast-new"), {"pieces": piece.pk, "day": str(day)}).content.decode()
    assert f'value="{day}"' in form
    assert f'name="pieces" value="{piece.pk}" checked' in form
    assert client.get(reverse("cast-new"), {"day": "0001-01-01"}).status_code == 200
