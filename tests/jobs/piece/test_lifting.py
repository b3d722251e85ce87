"""When a piece may be lifted and carried which way: against a hand calculation, and in words."""

from __future__ import annotations

import datetime as dt
import io
import re
from dataclasses import replace

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from curing.strength import PSI
from jobs.models import Piece
from jobs.services.course import open_piece
from jobs.services.lifting import WAY_WORDS, needed_ways
from jobs.services.outlook import as_json, from_json
from jobs.services.readiness import open_outlooks, rebuild
from jobs.services.shape import strength_asked
from shop.models import RouteStep, Shop
from shop.services.materials import curve_of
from tests import factories
from tests.factories import DAY, NOW
from tests.jobs.piece.section_helpers import COUNTER, INCH, PLAIN, send, words

THREE_QUARTERS = 0.75 * INCH


@pytest.fixture
def slab(as_owner, cast) -> Piece:
    """217-A, cast a day ago: 96 × 25 1/2 × 3/4 in of 2080 kg/m³ (129.85 lb/ft³)."""
    Piece.objects.filter(pk=cast.pk).update(thickness_m=THREE_QUARTERS)
    assert send(as_owner, PLAIN).status_code == 302
    return Piece.objects.get(pk=cast.pk)


def part_of(client) -> str:
    page = client.get("/pieces/217-A/").content.decode()
    return page[page.index('id="lifting"') : page.index("</section>", page.index('id="lifting"'))]


def row_of(client, way: str) -> str:
    rows = re.findall(r"<tr>.*?</tr>", part_of(client), re.DOTALL)
    return next(words(row) for row in rows if way in row)


@pytest.mark.parametrize(("yard", "shown"), [(1.0, "693 psi"), (1.2, "831 psi")])
def test_flat_by_its_ends_is_as_reckoned_by_hand(as_owner, slab, yard, shown):
    """w = 25.5 × 0.75 × 129.85 / 1728 = 1.4370 lb/in, M = w 96² / 8 = 1655.5 in lb,
    S = 25.5 × 0.75² / 6 = 2.3906 in³: 692.5 psi, and 1.2 times that in the shop."""
    by_hand = 25.5 * 0.75 * 129.850 / 1728 * 96**2 / 8 / (25.5 * 0.75**2 / 6)
    Shop.objects.update(yard_multiplier=yard)

    row = row_of(as_owner, "Carry flat by its ends")

    assert by_hand * yard == pytest.approx(float(shown.split()[0]), abs=0.7)
    assert shown in row
    assert "48 in from the left end" in row
    assert f"under {yard:g} × weight" in row
    assert "never by this mix" in row


def test_a_way_is_had_when_the_curve_has_the_strength_it_asks(as_owner, slab):
    """7.5 √f'c: on edge 20.4 × 1.2 × 1.5 = 36.7 psi asks for 24 psi, had since soon after setting."""
    opened = open_piece("217-A")
    assert opened is not None
    ways = {way.name: way for way in opened.outlook.ways}
    assert ways.keys() == WAY_WORDS.keys()
    climate, energy = opened.facts.climate_of(slab.room_id), slab.mix.activation_energy
    cast = (NOW - DAY).timestamp() / 3600
    for name in ("on edge", "stripped by tilting", "flat on two supports"):
        way = ways[name]
        age = float(climate.equivalent_age(cast, way.at.timestamp() / 3600, energy))
        assert float(curve_of(slab.mix).at(age)) == pytest.approx(way.mpa, rel=0.02, abs=0.05)
    stress = 3 * 1.2 * 2080 * 9.80665 * (96 * INCH) ** 2 / (4 * 25.5 * INCH) / 1e6
    assert ways["on edge"].mpa == pytest.approx((1.5 * stress / PSI / 7.5) ** 2 * PSI, rel=1e-2)
    assert "Carry on edge now" in row_of(as_owner, "Carry on edge")
    assert ways["flat by its ends"].at is None


def test_it_says_the_people_the_limit_its_basis_and_the_cautions(as_owner, slab):
    text = words(part_of(as_owner))

    assert "Now: strip by tilting, flip over one long edge, carry on edge" in text
    assert "Never by this mix&#x27;s curve: carry flat by its ends." in text
    # 1,836 in³ is 138 lb.
    assert "138 lb: 3 people, 46 lb each, at 50 lb a person, which the shop has set" in text
    assert "75 lb here: under this weight. More hands or a lifting aid." in text
    assert "the larger of 1.3 × weight and weight with 21 psf of bond" in text
    assert "PCI Design Handbook, from memory" in text
    assert "ACI 318-19" in text
    assert "placeholder curve of White premix" in text
    assert "local rules come first" in text
    assert "A piece taken out early can break and fall" in text
    assert "safe" not in text.lower()


def test_before_it_is_cast_nothing_is_had_now(as_owner, waiting):
    send(as_owner, COUNTER)
    text = words(part_of(as_owner))

    assert "If it is cast when taken above: Strip by tilting not before" in text
    assert " now " not in text.lower()


def test_strongbacks_are_weighed_and_set_against_none(as_owner, cast):
    bar = {"x": "18", "y": "21 1/4", "length": "60", "width": "3 1/2", "depth": "1 1/2"}
    send(as_owner, COUNTER | {f"bar_0_{name}": text for name, text in bar.items()})
    opened = open_piece("217-A")

    text = words(part_of(as_owner))

    assert "Without strongbacks" in text
    assert "lb of strongbacks" in text
    assert all(way.bars for way in opened.outlook.ways)
    bare = {**opened.piece.shape, "strongbacks": []}
    with_bars = {way.name: way.mpa for way in opened.outlook.ways}
    Piece.objects.update(shape=bare)
    without = {way.name: way.mpa for way in open_piece("217-A").outlook.ways}
    assert with_bars["flat on two supports"] < without["flat on two supports"]


def test_without_a_section_it_says_so_and_leads_there(as_owner, cast):
    assert "Its section is not entered" in words(part_of(as_owner))
    assert 'href="/pieces/217-A/section/"' in part_of(as_owner)


def test_the_crew_is_not_led_where_it_may_not_go(slab):
    from shop.models import Role
    from tests.jobs.piece.conftest import signed_in

    assert "/section/" not in part_of(signed_in(factories.make_person(Role.CREW)))


def test_the_demold_waits_for_it_where_the_route_says_so(as_owner, slab):
    RouteStep.objects.filter(key="demold").update(
        equivalent_hours=None, strength_mpa=None, hours_after_cast=0, by_section=True
    )
    demold = open_piece("217-A").outlook.steps[1]
    (strip,) = (way for way in open_piece("217-A").outlook.ways if "tilting" in way.name)
    assert demold.governs == "handling"
    # The step by its middle draw, the way by the likely curve: minutes apart.
    assert abs(demold.earliest - strip.at) < dt.timedelta(minutes=15)

    RouteStep.objects.filter(key="demold").update(by_section=False)

    assert open_piece("217-A").outlook.steps[1].governs != "handling"


def test_a_step_names_the_ways_it_waits_for(as_owner, slab):
    ways = open_piece("217-A").outlook.ways
    shop = Shop.objects.get()

    for kind, names in {
        "demold": {"stripped by tilting", "flipped"},
        "crate": {"on edge"},
        "deliver": {"on edge", "travels on edge"},
        "grind": set(),
    }.items():
        found = needed_ways(kind, ways)
        assert {way.name for way in found} == names
        if names:
            asked = strength_asked(slab, kind, shop)
            assert max(way.mpa for way in found) == pytest.approx(asked, abs=1e-3)


def test_the_store_keeps_it(as_owner, slab):
    rebuild(NOW)
    (outlook,) = open_outlooks()

    assert len(outlook.pieces[0].ways) == len(WAY_WORDS)
    assert from_json(as_json(outlook)) == outlook
    older = as_json(outlook)
    for piece in older["pieces"]:
        del piece["ways"]
    bare = replace(outlook.pieces[0], ways=())
    assert from_json(older).pieces == (bare,)


def test_the_sheet_has_it_in_one_line(as_owner, slab):
    pdf = as_owner.get("/pieces/217-A/sheet.pdf").content
    pages = PdfReader(io.BytesIO(pdf)).pages
    text = " ".join(" ".join(page.extract_text() for page in pages).split())

    assert len(pages) <= 2
    assert "Lifting and carrying: Now: strip by tilting" in text
    assert "3 people, 46 lb each." in text


def test_a_section_takes_no_more_queries(as_owner, cast):
    def queries() -> int:
        with CaptureQueriesContext(connection) as found:
            assert as_owner.get("/pieces/217-A/").status_code == 200
        return len(found)

    before = queries()
    send(as_owner, COUNTER)
    as_owner.get("/pieces/217-A/")  # shows and drops what was said

    assert queries() == before
