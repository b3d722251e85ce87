"""What pieces need, planned into runs, opened, and held against pieces that change."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curing.mix_checks import LAYERS
from curing.runs import Mixer, Part, Pour
from jobs.models import Batch, MixerRun, Piece
from jobs.services.errors import Conflict, Refused
from jobs.services.mixing import (
    AlreadyOpen,
    cast_runs,
    moisture_of_day,
    open_run,
    pours_of,
    strike_run,
)
from jobs.services.run_cover import cover
from jobs.services.weigh_sheets import record_of, sheet_of, shown_lines
from shop.models import Mix, Person, Role, Shop
from tests.factories import NOW, make_job, make_mix, make_person, make_piece, make_shop
from tests.jobs.mixing.rows import make_cast, make_recipe, opened

INCH = 0.0254
# A counter of 60 x 24 in, 3/4 in with an edge of 1 in down to 1 1/2 in in front.
COUNTER: dict[str, Any] = {
    "outline": "rectangle",
    "length": 60 * INCH,
    "width": 24 * INCH,
    "edges": [{"side": "front", "width": 1.0 * INCH, "depth": 1.5 * INCH}],
    "ribs": [],
    "cutouts": [],
    "strongbacks": [],
}


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop(mixer_kg=68.0, waste_face=0.2, waste_backer=0.1)


@pytest.fixture
def crew(shop: Shop) -> Person:
    return make_person(Role.CREW)


# What is needed.


def test_a_shape_gives_its_layers_and_an_area_a_slab(shop: Shop) -> None:
    """By hand: 60 x 24 in is 1440 in²; the edge 60 x 1 x 3/4 in is 45 in³; 1 in³ is 16.387 mL."""
    job = make_job("217")
    shaped = make_piece(
        job, "A", shape=COUNTER, thickness_m=0.75 * INCH, coat_m=0.125 * INCH, waste=0.15
    )
    plain = make_piece(job, "B", area_m2=2.0, thickness_m=0.02, coat_m=0.004, matches_job=False)
    pours = pours_of([shaped, plain], shop)
    found = {(p.piece, p.layer): (p.volume_m3, p.waste, p.match) for p in pours}
    inch3 = INCH**3
    assert found == {
        ("217-A", "face"): (pytest.approx(1440 * 0.125 * inch3), 0.15, "217"),
        ("217-A", "backer"): (pytest.approx(1440 * 0.625 * inch3), 0.15, "217"),
        ("217-A", "rib"): (pytest.approx(45 * inch3), 0.15, "217"),
        ("217-B", "face"): (pytest.approx(0.008), 0.2, ""),
        ("217-B", "backer"): (pytest.approx(0.032), 0.1, ""),
    }
    assert {p.density for p in pours} == {2080.0}


def test_a_section_that_cannot_be_cast_is_said_and_counts_as_a_slab(shop: Shop) -> None:
    edges = [{"side": "front", "width": INCH, "depth": 0.5 * INCH}]  # no deeper than the slab
    batch = make_cast("A", shape=COUNTER | {"edges": edges})
    runs = cast_runs(batch, {})
    assert set(runs.needs.faulty) == {"217-A"}
    assert {p.layer for p in runs.needs.pours} == {"face", "backer"}
    assert runs.notes[0].key == "faulty"


# Runs cover what is needed, whatever is opened and changed between.

PIECES = st.lists(
    st.tuples(
        st.floats(0.05, 4.0),  # m2
        st.floats(0.01, 0.05),  # m
        st.floats(0.0, 0.01),  # coat
        st.floats(0.0, 0.02),  # ribs, m3
        st.booleans(),
    ),
    min_size=1,
    max_size=6,
)


def pours(pieces: list[tuple[float, float, float, float, bool]]) -> list[Pour]:
    made = []
    for place, (area, thickness, coat, ribs, matches) in enumerate(pieces):
        layers = {"face": area * min(coat, thickness), "backer": area * max(0.0, thickness - coat)}
        layers["rib"] = ribs
        made += [
            Pour(f"9-{place}", layer, layers[layer], 2080.0, 0.1, "9" if matches else "", "1")
            for layer in LAYERS
        ]
    return made


def missing(wanted: list[Pour], runs: list[tuple[Part, ...]]) -> float:
    """The greatest share of a layer of a piece that no run gives."""
    worst = 0.0
    for pour in wanted:
        need = pour.volume_m3 * (1 + pour.waste)
        got = sum(
            p.m3 for run in runs for p in run if (p.piece, p.layer) == (pour.piece, pour.layer)
        )
        if need > 0:
            worst = max(worst, (need - got) / need)
    return worst


@settings(deadline=None, max_examples=60)
@given(before=PIECES, after=PIECES, mixer=st.floats(20.0, 300.0), share=st.floats(0, 1))
def test_runs_cover_every_layer_and_never_exceed_the_mixer(
    before: list[Any], after: list[Any], mixer: float, share: float
) -> None:
    first = cover(pours(before), Mixer(kg=mixer), [])
    runs = [run.parts for _place, run in first.to_open]
    assert missing(pours(before), runs) < 1e-9
    # Some of them are opened, then the pieces become others.
    kept = runs[: round(share * len(runs))]
    same = cover(pours(before), Mixer(kg=mixer), kept)
    assert not same.gaps
    assert len(same.to_open) == len(runs) - len(kept), "the rest stays as it was shown"
    then = cover(pours(after), Mixer(kg=mixer), kept)
    rest = [run.parts for _place, run in then.to_open]
    assert missing(pours(after), kept + rest) < 2e-3  # less than a scale is true to
    for parts in (*runs, *rest):
        assert sum(part.kg for part in parts) <= mixer * (1 + 1e-6)


def test_a_thicker_piece_is_no_longer_covered_and_the_page_says_by_how_much(
    shop: Shop, crew: Person
) -> None:
    """By hand: 1.5 m² x 4 mm x 1.2 is 7.2 L of face coat; with 6 mm it is 10.8 L."""
    make_recipe()
    batch = make_cast("A")
    run = opened(batch, crew)
    assert {part["layer"] for part in run.parts} == {"face", "backer"}
    piece = Piece.objects.get(code="217-A")
    Piece.objects.filter(pk=piece.pk).update(coat_m=0.006, thickness_m=0.021)
    runs = cast_runs(batch, {})
    gap = runs.cover.gaps[0]
    assert (gap.layer, gap.m3) == ("face", pytest.approx(0.0036))
    assert "no longer cover the face coat" in runs.notes[0].text
    assert "217-A" in runs.notes[0].text
    assert [part.layer for one in runs.planned for part in one.run.parts] == ["face"]
    assert sheet_of(runs.opened[0]) == sheet_of(run), "what was opened keeps its figures"


def test_a_piece_that_joins_and_one_that_leaves_are_told_apart(shop: Shop, crew: Person) -> None:
    make_recipe()
    batch = make_cast("A", "B", area_m2=0.5)
    opened(batch, crew)
    Piece.objects.filter(code="217-A").update(batch=None)
    joined = make_piece(batch.pieces.get().job, "C", area_m2=0.5)
    Piece.objects.filter(pk=joined.pk).update(batch=batch)
    runs = cast_runs(batch, {})
    texts = " ".join(note.text for note in runs.notes)
    assert "missing for 217-C" in texts
    assert "more face coat than is needed now, for 217-A" in texts
    assert {p.piece for one in runs.planned for p in one.run.parts} == {"217-C"}


# Opening.


def test_a_sheet_that_was_opened_stays_as_it_was(shop: Shop, crew: Person) -> None:
    make_recipe()
    batch = make_cast()
    run = opened(batch, crew, moisture={"Sand": 0.04, "Gravel": 0.1})
    before = [(line.key, line.amount, line.tolerance) for line in shown_lines(run, shop)]
    lines = sheet_of(run)
    make_recipe(number=2, fibre_face=0.01, fibre_backer=0.04)
    make_shop(mixer_kg=200.0, scale_unit="kg", scale_step_kg=0.1, waste_face=0.5)
    Mix.objects.update(density=2300.0)
    kept = MixerRun.objects.get(pk=run.pk)
    after = [(line.key, line.amount, line.tolerance) for line in shown_lines(kept, make_shop())]
    assert (after, sheet_of(kept)) == (before, lines)
    assert kept.sheet["moisture"] == {"Sand": 0.04}
    assert kept.recipe.number == 1
    notes = {note.key: note.text for note in cast_runs(batch, {}).notes}
    assert "version 1 of the recipe" in notes["other-version"]


def test_weights_are_in_what_each_scale_shows(shop: Shop, crew: Person) -> None:
    """0.05 lb on the large scale, grams on the small one for pigment and what is light."""
    make_recipe()
    run = opened(make_cast(), crew)
    lines = {line.key: line for line in shown_lines(run, shop)}
    assert lines["Cement"].amount.endswith(" lb")
    number = float(lines["Cement"].digits) / 0.05
    assert number == pytest.approx(round(number), abs=1e-6)
    assert lines["Black"].amount.endswith(" g")
    assert lines["Black"].digits.isdigit()
    whole = sum(line.line.exact_kg for line in lines.values())
    assert whole == pytest.approx(sum(part["kg"] for part in run.parts))


def test_what_the_large_scale_cannot_show_to_its_tolerance_goes_on_the_small_one(
    shop: Shop, crew: Person
) -> None:
    """Half of 0.05 lb is 11.3 g, more than 1 % of cement below 1.13 kg."""
    make_recipe()
    run = opened(make_cast("A", area_m2=0.05), crew)
    lines = {line.key: line for line in shown_lines(run, shop)}
    assert lines["Cement"].line.exact_kg < 1.13
    assert lines["Cement"].unit == "g"
    assert {note.text.partition(":")[0] for note in sheet_of(run).notes} <= {"Black"}


def test_one_run_is_opened_once(shop: Shop, crew: Person) -> None:
    make_recipe()
    batch = make_cast()
    key = uuid.uuid4()
    run = opened(batch, crew, client_key=key)
    assert opened(batch, crew, client_key=key).pk == run.pk
    with pytest.raises(AlreadyOpen) as already:
        opened(batch, crew, client_key=uuid.uuid4())
    assert already.value.run == run


def test_a_seal_that_is_old_is_a_conflict(shop: Shop, crew: Person) -> None:
    make_recipe()
    batch = make_cast()
    seal = cast_runs(batch, {}).planned[0].seal
    make_recipe(number=2)
    with pytest.raises(Conflict):
        opened(batch, crew, seal=seal)


def test_what_cannot_be_opened_says_why(shop: Shop, crew: Person) -> None:
    batch = make_cast()
    with pytest.raises(Refused, match="no recipe"):
        opened(batch, crew)
    make_recipe()
    with pytest.raises(Refused, match="no run 9"):
        opened(batch, crew, number=9)
    with pytest.raises(Refused, match="brings") as wet:
        opened(batch, crew, moisture={"Sand": 0.45})
    assert wet.value.field == "moisture"
    with pytest.raises(Refused, match="called off"):
        open_run(batch_id=0, number=1, moisture={}, by=crew, now=NOW)
    assert not MixerRun.objects.exists()


def test_a_struck_run_keeps_its_number_and_is_planned_again(shop: Shop, crew: Person) -> None:
    make_recipe()
    batch = make_cast()
    count = len(cast_runs(batch, {}).planned)
    run = opened(batch, crew)
    with pytest.raises(Refused, match="why"):
        strike_run(run_id=run.pk, because=" ", by=crew)
    struck = strike_run(run_id=run.pk, because="too wet", by=crew, now=NOW)
    again = strike_run(run_id=run.pk, because="other", by=crew)
    assert (again.struck_because, again.struck_at) == ("too wet", struck.struck_at)
    runs = cast_runs(batch, {})
    assert len(runs.planned) == count
    assert sorted(one.number for one in runs.planned) == [*range(2, count + 1), count + 1]
    assert opened(batch, crew, number=count + 1).parts == run.parts


def test_moisture_is_typed_once_a_day(shop: Shop, crew: Person) -> None:
    """The shop's day, not that of UTC: 23:30 in Chicago is the next day in UTC."""
    make_recipe()
    batch = make_cast()
    late = dt.datetime(2026, 3, 19, 4, 30, tzinfo=dt.UTC)
    opened(batch, crew, moisture={"Sand": 0.031}, now=NOW)
    assert moisture_of_day(late, shop) == {"Sand": 0.031}
    assert moisture_of_day(late + dt.timedelta(hours=1), shop) == {}


def test_pieces_that_match_and_lie_in_another_cast_are_named(shop: Shop) -> None:
    batch = make_cast("A")
    job = batch.pieces.get().job
    make_piece(job, "B")
    make_piece(job, "C", matches_job=False)
    make_piece(job, "D", mix=make_mix(name="Other premix"))
    runs = cast_runs(batch, {})
    assert runs.apart == ("217-B",)
    assert runs.together == "apart"


def test_a_run_for_another_mix_counts_for_nothing(shop: Shop, crew: Person) -> None:
    make_recipe()
    batch = make_cast("A")
    opened(batch, crew)
    other = make_mix(name="Grey premix")
    Batch.objects.filter(pk=batch.pk).update(mix=other)
    Piece.objects.update(mix=other)
    runs = cast_runs(Batch.objects.get(), {})
    assert [note.key for note in runs.notes] == ["other-mix"]
    assert len(runs.planned) == 1
    assert runs.recipe is None


def test_the_record_of_a_run_counts_what_is_not_weighed_as_on_the_sheet(
    shop: Shop, crew: Person
) -> None:
    make_recipe()
    run = opened(make_cast(), crew)
    record = record_of(run)
    assert record.total_kg == pytest.approx(sheet_of(run).weigh_kg)
    assert [note.key for note in record.notes] == ["not-weighed"]
