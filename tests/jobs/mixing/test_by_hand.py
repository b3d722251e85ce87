"""One L with a rim and a rib, from its sides to what the run made, against sums written out here.

Areas and volumes are plain geometry; a recipe in parts, water by ACI 211.1 (free water; moist sand
is weighed as dry × (1 + moisture) and its dry × (moisture − absorption) taken off the water), yield
by ASTM C138 (weight over unit weight); both from memory. Nothing of the engine is called for what
is expected.
"""

from __future__ import annotations

import uuid
from typing import Any

import pytest

from jobs.models import MixerRun
from jobs.services.mixing import cast_runs
from jobs.services.substance import substance_of
from jobs.services.ticks import tick
from jobs.services.weigh_sheets import record_of, sheet_of
from shop.models import Role
from tests.factories import NOW, make_batch, make_job, make_mix, make_person, make_piece, make_shop
from tests.jobs.mixing.rows import make_recipe, opened

pytestmark = pytest.mark.django_db

L: dict[str, Any] = {
    "outline": "L", "length": 2.4, "width": 1.5, "notch_length": 1.5, "notch_width": 0.9,
    "corner": "back right", "edges": [{"side": "all", "width": 0.025, "depth": 0.05}],
    "ribs": [{"at": 0.3, "width": 0.04, "depth": 0.03, "along": "length"}],
    "cutouts": [], "strongbacks": [],
}  # fmt: skip
AREA = 2.4 * 1.5 - 1.5 * 0.9
# A strip of 25 mm within the 7.8 m round it; at five corners out and one in, its squares meet.
RIM = 7.8 * 0.025 - 4 * 0.025**2
FACE, BACKER = AREA * 0.005, AREA * 0.015
RIB = RIM * (0.05 - 0.02) + (2.4 - 2 * 0.025) * 0.04 * 0.03
DENSITY, DRY = 2080.0, 2010.0
# With a tenth and a twentieth of waste; face without fibre, backer 2.5 %, rim and ribs 3.5 %.
LAYERS = {"face": FACE * 1.10, "backer": BACKER * 1.05, "rib": RIB * 1.05}
FIBRE = {"face": 0.0, "backer": 0.025, "rib": 0.035}
# To 85 of cement and 15 of metakaolin: w/cm 0.34, half of the polymer being water.
PARTS = {"Cement": 85.0, "Metakaolin": 15.0, "Sand": 100.0, "Polymer": 0.05 * 85 / 0.5,
         "Black": 0.02 * 85, "Water": 0.34 * 100 - 0.05 * 85}  # fmt: skip
MOISTURE, ABSORPTION = 0.04, 0.005


def by_hand() -> dict[str, float]:
    """What to weigh, by the sheet's lines [kg]."""
    fibre = {layer: m3 * DENSITY * FIBRE[layer] for layer, m3 in LAYERS.items()}
    matrix = sum(LAYERS.values()) * DENSITY - sum(fibre.values())
    weights = {name: matrix * part / sum(PARTS.values()) for name, part in PARTS.items()}
    dry = weights["Sand"] / (1 + ABSORPTION)
    weights["Sand"] = dry * (1 + MOISTURE)
    weights["Water"] -= dry * (MOISTURE - ABSORPTION)
    return weights | {f"Glass fibre, {layer}": kg for layer, kg in fibre.items() if kg}


@pytest.fixture(params=["us", "si"])
def run(request: pytest.FixtureRequest) -> MixerRun:
    make_shop(units=request.param, mixer_kg=200.0, waste_face=0.10, waste_backer=0.05)
    mix = make_mix(density=DENSITY, dry_density=DRY)
    make_recipe(mix)
    piece = make_piece(
        make_job(), area_m2=AREA, thickness_m=0.02, coat_m=0.005, shape=L, mix=mix, matches_job=True
    )
    return opened(make_batch(piece), make_person(Role.CREW), moisture={"Sand": MOISTURE})


def test_the_piece_weighs_what_its_sides_say(run: MixerRun) -> None:
    found = substance_of(run.batch.pieces.get(), make_shop())

    assert found.area == pytest.approx(AREA)
    volumes = [found.volume_of(layer) for layer in ("face coat", "backer")]
    assert volumes == pytest.approx([FACE, BACKER])
    assert found.volume_of("edge") + found.volume_of("ribs") == pytest.approx(RIB)
    assert found.fresh_kg == pytest.approx((FACE + BACKER + RIB) * DENSITY)
    assert found.dry_kg == pytest.approx((FACE + BACKER + RIB) * DRY)


def test_the_sheet_asks_for_each_weight(run: MixerRun) -> None:
    assert not cast_runs(run.batch).planned
    assert {line.key: line.exact_kg for line in sheet_of(run).lines} == pytest.approx(by_hand())


def test_water_that_was_added_and_the_yield(run: MixerRun) -> None:
    for key, kg in by_hand().items():
        tick(run_id=run.pk, line=key, kg=kg, by=run.opened_by, at=NOW, now=NOW,
             client_key=uuid.uuid4())  # fmt: skip
    MixerRun.objects.filter(pk=run.pk).update(added_water_kg=1.2, unit_weight=2050.0)

    record = record_of(MixerRun.objects.get(pk=run.pk))

    whole = sum(LAYERS.values()) * DENSITY
    cement = by_hand()["Cement"]
    assert record.total_kg == pytest.approx(whole + 1.2)
    assert record.ratios["water_cement"] == pytest.approx(0.34 * 100 / 85 + 1.2 / cement)
    assert record.ratios["water_cementitious"] == pytest.approx(0.34 + 1.2 / (cement / 0.85))
    assert record.yield_m3 == pytest.approx((whole + 1.2) / 2050)
    assert "water-added" in {note.key for note in record.notes}
