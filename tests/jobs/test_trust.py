"""From which age the shop may demold: kept with the mark, learned, raised by itself, agreed on."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from curing.outcomes import learn
from jobs.models import Demold, Mark, PieceKind, TrustedAge
from jobs.services import trust, trusted_ages
from jobs.services.errors import Conflict, Refused
from jobs.services.facts import load_facts
from jobs.services.marks import mark_done, recast, strike
from jobs.services.readiness import outlook_of
from shop import defaults
from shop.models import Change, Shop
from tests.factories import (
    HOUR,
    NOW,
    make_job,
    make_mark,
    make_mix,
    make_person,
    make_piece,
    make_readings,
    make_room,
    make_route,
    make_shop,
    make_working_week,
)

pytestmark = pytest.mark.django_db

CAST = NOW - 96 * HOUR
# The usual route asks for 2500 psi and 20 h: by the usual curve, su k (t - t0) / (1 + k (t - t0)) of
# ASTM C1074, 2500 of 9000 psi is reached at 6 + (2500/6500) / 0.0322 = 17.9 h, so 20 h is later.
GATE = 20.0


@pytest.fixture
def shop():
    made = make_shop()
    make_working_week()
    room = make_room(celsius=20.0)
    make_readings(room, CAST - 2 * HOUR, 400, 20.0, every_minutes=60)
    return made


@pytest.fixture
def owner(shop):
    return make_person("owner", name="Odd")


@pytest.fixture
def crew(shop):
    return make_person("crew", name="Nell")


@pytest.fixture
def piece(shop, crew):
    made = make_piece(make_job("217"))
    make_mark(made, "cast", CAST, by=crew)
    return made


def demold(piece, by, hours: float, outcome: str = "", **more) -> Mark:
    at = CAST + hours * HOUR
    more.setdefault("reason", "early")
    return mark_done(
        piece_id=piece.pk,
        step_key="demold",
        by=by,
        client_key=uuid.uuid4(),
        happened_at=at,
        outcome=outcome,
        now=max(at, CAST + 90 * HOUR),
        **more,
    )


def seen(piece, crew, *rows: tuple[float, str], number: int = 300) -> None:
    """Demolds of pieces like this one, as they were marked."""
    job = make_job(str(number))
    for place, (age, outcome) in enumerate(rows):
        letter = chr(65 + place // 26) + chr(65 + place % 26)
        other = make_piece(job, letter, area_m2=piece.area_m2)
        mark = make_mark(other, "demold", CAST + age * HOUR, by=crew, outcome=outcome)
        Demold.objects.create(mark=mark, age_hours=age, **trust.alike_of(other)._asdict())


def demold_waits(number: str = "217") -> dict[str, object]:
    step = next(s for s in outlook_of(number, CAST + HOUR).pieces[0].steps if s.key == "demold")
    return {wait.criterion: wait for wait in step.waits}


def kind_of(piece):
    (found,) = trusted_ages.kinds_of(piece.mix, Shop.objects.get())
    return found


def decide(piece, owner, act=trusted_ages.say_yes, **changed):
    kind = kind_of(piece)
    told = {
        "mix_id": piece.mix_id,
        "route_id": piece.route_id,
        "kind": kind.alike.kind,
        "version": piece.mix.version,
        "basis": kind.basis,
        "by": owner,
        "shop": Shop.objects.get(),
    }
    return act(**{**told, **changed})


# ---- what is kept with the mark ---------------------------------------------------------------


def test_the_age_at_demold_is_kept_with_the_mark(piece, crew):
    mark = demold(piece, crew, 26.0, "clean")
    # 20 °C is the reference of ASTM C1074 here: hours are equivalent hours.
    assert mark.demold.age_hours == pytest.approx(26.0, abs=0.01)
    assert (mark.demold.mix, mark.demold.route) == (piece.mix, piece.route)
    assert mark.demold.kind == PieceKind.HEAVY  # 1.5 m² is over 10 ft²


def test_a_cold_room_makes_the_age_less_than_the_clock(shop, crew):
    cold = make_room("Cold room", celsius=10.0)
    make_readings(cold, CAST - 2 * HOUR, 200, 10.0, every_minutes=60)
    piece = make_piece(make_job("217"), room=cold)
    make_mark(piece, "cast", CAST, by=crew)
    mark = demold(piece, crew, 40.0, "clean")
    # exp(-41500 / 8.314 (1/283.15 - 1/293.15)) = 0.548, EN 1992-1-1 (B.10) in Arrhenius' form
    assert mark.demold.age_hours == pytest.approx(40.0 * 0.548, rel=0.005)


def test_a_demold_may_leave_open_how_it_came_out(piece, crew):
    mark = demold(piece, crew, 26.0)
    assert mark.outcome == ""
    assert trust.load_trust().outcomes == {}
    assert kind_of(piece).unsaid == 1


def test_only_a_demold_has_an_outcome(piece, crew):
    demold(piece, crew, 26.0, "clean")
    with pytest.raises(Refused, match="Only a demold"):
        mark_done(
            piece_id=piece.pk,
            step_key="grind",
            by=crew,
            client_key=uuid.uuid4(),
            outcome="soft",
            now=CAST + 80 * HOUR,
        )
    assert not Mark.objects.filter(step_key="grind").exists()


def test_an_outcome_is_one_of_the_four(piece, crew):
    with pytest.raises(Refused, match="clean, soft, chipped or broken"):
        demold(piece, crew, 26.0, "lovely")
    assert not Demold.objects.exists()


def test_a_struck_demold_does_not_count_and_a_lost_casting_does(piece, crew):
    struck = demold(piece, crew, 26.0, "clean")
    strike(mark_id=struck.pk, by=crew, client_key=uuid.uuid4(), now=struck.recorded_at)
    assert trust.load_trust().outcomes == {}
    demold(piece, crew, 27.0, "broken")
    recast(piece_id=piece.pk, by=crew, reason="fell apart", client_key=uuid.uuid4())
    (outcomes,) = trust.load_trust().outcomes.values()
    assert outcomes == ((27.0, "broken"),)


def test_a_piece_cast_again_with_another_mix_leaves_its_outcome_where_it_was(piece, crew):
    demold(piece, crew, 27.0, "soft")
    before = dict(trust.load_trust().outcomes)
    piece.mix = make_mix(name="Grey premix")
    piece.save()
    assert trust.load_trust().outcomes == before


# ---- the default gate -------------------------------------------------------------------------


def test_the_default_gate_is_the_later_of_age_and_strength(piece):
    steps, mix = list(piece.route.steps.all()), piece.mix
    assert trust.default_gate(steps, mix) == GATE
    by_strength = next(step for step in steps if step.kind == "demold")
    by_strength.equivalent_hours = None
    assert trust.default_gate(steps, mix) == pytest.approx(6 + (2500 / 6500) / 0.0322, rel=1e-3)
    by_strength.strength_mpa = 9000 * defaults.PSI  # never reached
    assert trust.default_gate(steps, mix) is None
    by_strength.strength_mpa = None
    assert trust.default_gate(steps, mix) is None


def test_without_outcomes_only_the_route_speaks(piece):
    assert load_facts(NOW).gate_of(piece) is None
    assert "trusted age" not in demold_waits()


# ---- raised by itself -------------------------------------------------------------------------


def test_a_piece_that_broke_raises_the_gate_at_once_and_beside_the_routes(piece, crew):
    other = make_piece(make_job("218"), area_m2=piece.area_m2)
    make_mark(other, "cast", CAST, by=crew)
    broke = demold(other, crew, 24.0, "broken")
    row = TrustedAge.objects.get()
    assert (row.by, row.mark) == (None, broke)
    bound = learn([(24.0, "broken")], gate_hours=GATE).trusted_age()
    assert bound > 1.05 * 24.0  # above the age at which it broke, and by more than the margin
    assert row.hours == trust.round_up(bound)
    waits = demold_waits()
    assert waits["trusted age"].needed == row.hours
    assert waits["trusted age"].demolds == 1
    assert {"strength", "equivalent age"} <= waits.keys()


def test_a_raise_stays_until_the_owner_says_otherwise(piece, crew, owner):
    other = make_piece(make_job("218"), area_m2=piece.area_m2)
    make_mark(other, "cast", CAST, by=crew)
    demold(other, crew, 20.5, "soft")
    raised = load_facts(NOW).gate_of(piece)
    assert raised.hours > GATE
    assert not raised.instead
    seen(piece, crew, *[(21.0, "clean")] * 40)
    assert load_facts(NOW).gate_of(piece).hours == raised.hours
    assert kind_of(piece).learned.suggestion.asks_yes
    decide(piece, owner)
    gate = load_facts(NOW).gate_of(piece)
    assert gate is None or gate.hours < raised.hours


def test_striking_the_mark_takes_its_raise_with_it(piece, crew):
    other = make_piece(make_job("218"), area_m2=piece.area_m2)
    make_mark(other, "cast", CAST, by=crew)
    broke = demold(other, crew, 24.0, "broken")
    strike(mark_id=broke.pk, by=crew, client_key=uuid.uuid4(), now=broke.recorded_at)
    assert load_facts(NOW).gate_of(piece) is None
    assert "trusted age" not in demold_waits()


def test_a_raise_is_the_kinds_own(piece, crew):
    small = make_piece(make_job("219"), area_m2=0.4)
    other_route = make_piece(
        make_job("220"),
        area_m2=1.5,
        route=make_route("Small", defaults.ROUTES["Small flat piece, honed and sealed"]),
    )
    seen(piece, crew, (24.0, "broken"))
    facts = load_facts(NOW)
    assert facts.gate_of(piece).hours > GATE
    assert facts.gate_of(small) is None
    assert facts.gate_of(other_route) is None


# ---- earlier only with the owner's yes --------------------------------------------------------


@pytest.fixture
def earned(piece, crew):
    """Forty clean ones between 17 and 20 h."""
    seen(piece, crew, *[(17.0 + 0.075 * place, "clean") for place in range(40)])


def test_clean_demolds_change_nothing_before_the_owners_yes(piece, earned):
    assert load_facts(NOW).gate_of(piece) is None
    assert "trusted age" not in demold_waits()
    learned = kind_of(piece).learned
    assert learned.suggestion.asks_yes
    assert learned.in_force == GATE
    assert 12.0 <= learned.suggested < GATE


def test_the_owners_yes_takes_the_place_of_strength_and_age_but_not_of_the_clock(
    piece, earned, owner
):
    Change.objects.all().delete()
    row = decide(piece, owner)
    assert row.hours == trust.round_up(row.hours) < GATE
    assert row.outcomes == 40
    assert Change.objects.count() == 1
    waits = demold_waits()
    assert {"strength", "equivalent age"} & waits.keys() == set()
    assert waits["trusted age"].needed == row.hours
    assert waits["trusted age"].demolds == 40
    assert waits["clock floor"].needed == 16.0


def test_the_strength_that_the_piece_itself_asks_for_stays(piece, earned, owner):
    decide(piece, owner)
    piece.route.steps.filter(kind="demold").update(by_section=True)
    piece.shape = {"outline": "rectangle", "length": 1.5, "width": 1.0}
    piece.save()
    assert demold_waits()["handling"].needed > 0


def test_the_owner_takes_it_back(piece, earned, owner):
    decide(piece, owner)
    decide(piece, owner, trusted_ages.take_back)
    assert load_facts(NOW).gate_of(piece) is None
    with pytest.raises(Refused, match="in force already"):
        decide(piece, owner, trusted_ages.take_back)


def test_a_soft_one_after_the_yes_raises_it_again(piece, earned, owner, crew):
    agreed = decide(piece, owner).hours
    seen(piece, crew, *[(18.5, "soft")] * 3, number=310)
    gate = load_facts(NOW).gate_of(piece)
    assert gate.hours > agreed


def test_never_under_the_floor(piece, earned, owner):
    Shop.objects.update(demold_floor_hours=19.0)
    assert decide(piece, owner).hours == 19.0
    Shop.objects.update(demold_floor_hours=19.5)
    assert load_facts(NOW).gate_of(piece).hours == 19.5


def test_a_routes_own_gate_under_the_floor_stays(piece, crew):
    Shop.objects.update(demold_floor_hours=48.0)
    seen(piece, crew, (25.0, "clean"))
    assert load_facts(NOW).gate_of(piece) is None


def test_a_small_gain_asks_nobody(piece, earned, owner):
    Shop.objects.update(demold_floor_hours=GATE - 0.2)
    assert not kind_of(piece).learned.suggestion.asks_yes
    with pytest.raises(Refused, match="no earlier age"):
        decide(piece, owner)


def test_what_has_changed_since_the_look_is_not_decided_on(piece, earned, owner, crew):
    basis = kind_of(piece).basis
    seen(piece, crew, (19.0, "soft"), number=310)
    with pytest.raises(Conflict, match="look again"):
        decide(piece, owner, basis=basis)
    with pytest.raises(Conflict):
        decide(piece, owner, version=piece.mix.version + 1)
    with pytest.raises(Conflict):
        decide(piece, owner, kind="plain")
    assert not TrustedAge.objects.exists()


def test_the_default_gate_is_not_moved_by_a_yes(piece, earned, owner):
    """Or the same outcomes would count twice."""
    before = kind_of(piece).learned.evidence.trusted_age()
    decide(piece, owner)
    after = kind_of(piece).learned
    assert after.evidence.trusted_age() == before
    assert not after.suggestion.asks_yes


def test_an_age_is_set_by_somebody_or_by_a_demold(piece):
    with pytest.raises(IntegrityError), transaction.atomic():
        TrustedAge.objects.create(hours=18.0, outcomes=3, **trust.alike_of(piece)._asdict())


# ---- how much is read -------------------------------------------------------------------------


def test_more_demolds_take_as_many_queries(piece, crew, owner):
    counts = []
    for number in (300, 301):
        seen(piece, crew, *[(18.0 + place / 4, "clean") for place in range(12)], number=number)
        with CaptureQueriesContext(connection) as queries:
            load_facts(NOW)
            trusted_ages.kinds_of(piece.mix, Shop.objects.get())
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_shown_ages_are_rounded_up():
    assert trust.round_up(15.01) == 15.1
    assert trust.round_up(15.1) == 15.1
    assert trust.round_up(15.1 + 1e-9) == 15.1
    assert dt.timedelta(hours=trust.round_up(15.01)) >= dt.timedelta(hours=15.01)
