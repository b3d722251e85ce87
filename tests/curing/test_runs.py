"""From pieces to the mixer's runs: nothing lost, nothing over, what must match together."""

from __future__ import annotations

import math
from collections import defaultdict
from itertools import pairwise, product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curing.mix_checks import LAYERS, Layer
from curing.packing import EXACT, _greatest_first, balanced, pack
from curing.runs import Mixer, Plan, Pour, layer_volumes, plan_runs, waste_of

CLOSE = 1 + 1e-6
DENSITY: dict[Layer, float] = {"face": 2100.0, "backer": 2050.0, "rib": 2030.0}


def pour(piece: str, layer: Layer, litres: float, match: str = "", **more: Any) -> Pour:
    return Pour(piece, layer, litres / 1000, 2000, waste=0.0, match=match, **more)


def where(plan: Plan) -> dict[str, set[int]]:
    """Runs in which each piece has a part."""
    found = defaultdict(set)
    for i, run in enumerate(plan.runs):
        for part in run.parts:
            found[part.piece].add(i)
    return found


def test_matched_pieces_that_fit_share_a_run() -> None:
    """60, 50 and 40 L in a mixer of 100: the matched 60 and 40 together, the 50 alone."""
    pours = [
        pour("a", "backer", 60, "kitchen"),
        pour("b", "backer", 50),
        pour("c", "backer", 40, "kitchen"),
    ]
    plan = plan_runs(pours, Mixer(m3=0.1))
    runs = where(plan)
    assert runs["a"] == runs["c"] != runs["b"]
    assert len(plan.runs) == 2 == plan.fewest
    assert plan.notes == ()


def test_too_much_for_one_run_is_split_by_layer() -> None:
    """Two islands of 20 face and 50 backer: all faces from one run, all backers from another."""
    pours = [
        pour(piece, layer, litres, "island")
        for piece in ("left", "right")
        for layer, litres in (("face", 20.0), ("backer", 45.0), ("rib", 5.0))
    ]
    plan = plan_runs(pours, Mixer(m3=0.1))
    assert [set(run.by_layer()) for run in plan.runs] in (
        [{"face"}, {"backer", "rib"}],
        [{"face", "backer"}, {"rib"}],
    )
    # Equal sizes: 40 and 100 rather than 130, which does not fit.
    assert [run.m3 for run in plan.runs] == pytest.approx([0.04, 0.1])
    [note] = plan.notes
    assert note.key == "split-by-layer"
    assert "island" in note.text
    assert note.figures["load"] == pytest.approx(0.14)


def test_a_layer_over_the_mixer_is_split_by_pieces_and_says_so() -> None:
    pours = [pour(piece, "face", 40, "bar") for piece in "abcd"] + [pour("a", "backer", 10, "bar")]
    plan = plan_runs(pours, Mixer(m3=0.1))
    assert [note.key for note in plan.notes] == ["split-by-layer", "split-by-area"]
    assert [run.m3 for run in plan.runs] == pytest.approx([0.08, 0.09])
    assert all(len(runs) == 1 for piece, runs in where(plan).items() if piece != "a")


def test_the_next_layer_joins_the_emptiest_run_of_a_divided_one() -> None:
    """Faces of 90, 30 and 50 make runs of 90 and 80; ribs of 20 fit the second, whatever comes first."""
    for litres in ([90, 30, 50], [30, 50, 90], [50, 90, 30]):
        pours = [pour(f"p{i}", "face", v, "bar") for i, v in enumerate(litres)]
        plan = plan_runs([*pours, pour("p0", "rib", 20, "bar")], Mixer(m3=0.1))
        assert sorted(run.m3 for run in plan.runs) == pytest.approx([0.09, 0.1])
        assert set(plan.runs[-1].by_layer()) == {"face", "rib"}


def test_many_pieces_of_a_divided_layer_say_what_was_not_tried() -> None:
    pours = [pour(f"p{i}", "face", 10, "bar") for i in range(EXACT + 1)]
    assert [n.key for n in plan_runs(pours, Mixer(m3=0.1)).notes] == [
        "split-by-area",
        "not-proven-least",
    ]


def test_a_piece_over_the_mixer_is_cut_into_equal_parts_and_says_so() -> None:
    plan = plan_runs([pour("bench", "backer", 250)], Mixer(m3=0.1))
    assert [run.m3 for run in plan.runs] == pytest.approx([0.25 / 3] * 3)
    [note] = plan.notes
    assert note.key == "piece-over-mixer"
    assert note.figures["runs"] == 3
    assert "3 runs" in note.text


def test_whole_pieces_fill_what_a_split_set_leaves() -> None:
    """30 beside the faces (60), 40 beside the backers (60): two runs, not three."""
    pours = [
        pour("a", "face", 60), pour("a", "backer", 60), pour("b", "backer", 30), pour("c", "face", 40),
    ]  # fmt: skip
    plan = plan_runs(pours, Mixer(m3=0.1))
    assert len(plan.runs) == 2 == plan.fewest


def test_other_matrices_never_share_a_run() -> None:
    pours = [pour("a", "backer", 10, mix="grey"), pour("a", "face", 10, mix="white")]
    plan = plan_runs(pours, Mixer(m3=0.1))
    assert [(run.mix, set(run.by_layer())) for run in plan.runs] == [
        ("white", {"face"}),
        ("grey", {"backer"}),
    ]
    assert plan.fewest == 2


def test_waste_and_weight_by_unit_weight() -> None:
    """1 m² of 3/4 in, an eighth of face sprayed with 20 % waste, ribs of 3 L; by hand."""
    volumes = layer_volumes(1.0, 0.019, 0.003, 0.003)
    assert volumes == pytest.approx({"face": 0.003, "backer": 0.016, "rib": 0.003})
    pours = [
        Pour("a", layer, volume, DENSITY[layer], waste_of("sprayed" if layer == "face" else "slab"))
        for layer, volume in volumes.items()
    ]
    [run] = plan_runs(pours, Mixer(kg=80)).runs
    assert run.m3 == pytest.approx(0.0036 + 0.0176 + 0.0033)
    assert run.by_layer() == pytest.approx(
        {"face": 0.0036 * 2100, "backer": 0.0176 * 2050, "rib": 0.0033 * 2030}
    )
    assert waste_of("sink") == 0.20
    assert waste_of("slab") == 0.10


def test_by_weight_or_by_volume() -> None:
    """60 L of 2,000 kg/m³ are 120 kg: one run by 100 L, two by 100 kg."""
    pours = [pour("a", "backer", 30), pour("b", "backer", 30)]
    assert len(plan_runs(pours, Mixer(m3=0.1)).runs) == 1
    assert len(plan_runs(pours, Mixer(kg=100)).runs) == 2


def test_nothing_to_cast_needs_no_run() -> None:
    assert plan_runs([], Mixer(kg=100)) == Plan((), (), 0)
    assert plan_runs([pour("a", "rib", 0)], Mixer(kg=100)).runs == ()


@st.composite
def pieces(draw: st.DrawFn) -> list[Pour]:
    count = draw(st.integers(1, 6))
    found = []
    for i in range(count):
        match = draw(st.sampled_from(["", "kitchen", "bath"]))
        for layer in draw(st.sets(st.sampled_from(LAYERS), min_size=1)):
            found.append(
                Pour(
                    f"piece {i}",
                    layer,
                    draw(st.floats(1e-4, 0.06)),
                    DENSITY[layer],
                    draw(st.sampled_from([0.0, 0.1, 0.2])),
                    match,
                )
            )
    return draw(st.permutations(found))


mixers = st.one_of(
    st.floats(30, 200).map(lambda kg: Mixer(kg=kg)),
    st.floats(0.015, 0.1).map(lambda m3: Mixer(m3=m3)),
)


def loads_of(pours: list[Pour], mixer: Mixer) -> dict[tuple[str, str], dict[Layer, float]]:
    """Of each set, what each layer asks of the mixer: reckoned here by itself."""
    sets: dict[tuple[str, str], dict[Layer, float]] = defaultdict(lambda: defaultdict(float))
    for p in pours:
        gross = p.volume_m3 * (1 + p.waste)
        key = ("match", p.match) if p.match else ("piece", p.piece)
        sets[key][p.layer] += gross if mixer.kg is None else gross * p.density
    return sets


@settings(max_examples=200, deadline=None)
@given(pours=pieces(), mixer=mixers)
def test_runs_cover_fit_match_and_follow_the_casting(pours: list[Pour], mixer: Mixer) -> None:
    plan = plan_runs(pours, mixer)
    # Never over the mixer.
    for run in plan.runs:
        assert (run.m3 if mixer.kg is None else run.kg) <= mixer.capacity * CLOSE
    # Nothing lost, nothing added.
    made: dict[tuple[str, str], float] = defaultdict(float)
    for run in plan.runs:
        for part in run.parts:
            made[part.piece, part.layer] += part.m3
            assert part.kg == pytest.approx(part.m3 * DENSITY[part.layer])
    wanted = {(p.piece, p.layer): p.volume_m3 * (1 + p.waste) for p in pours}
    assert dict(made) == pytest.approx(wanted)
    # Sets, and layers of sets, that fit are in one run.
    belongs = {p.piece: ("match", p.match) if p.match else ("piece", p.piece) for p in pours}
    used: dict[Any, set[int]] = defaultdict(set)
    for i, run in enumerate(plan.runs):
        for part in run.parts:
            used[belongs[part.piece]].add(i)
            used[belongs[part.piece], part.layer].add(i)
    over = set()
    for name, layers in loads_of(pours, mixer).items():
        if sum(layers.values()) <= mixer.capacity:
            assert len(used[name]) == 1
        elif len(layers) > 1:
            over.add(name[1])
        for layer, load in layers.items():
            if load <= mixer.capacity:
                assert len(used[name, layer]) == 1
    # And whatever is split by layer is said.
    said = [n.text.split(":")[0] for n in plan.notes if n.key == "split-by-layer"]
    assert sorted(said) == sorted(over)
    # A layer is never mixed before the one under it.
    for name in set(belongs.values()):
        runs = [used[name, layer] for layer in LAYERS if used[name, layer]]
        for first, then in pairwise(runs):
            assert max(first) <= min(then)
    assert len(plan.runs) >= plan.fewest


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(0.05, 1), min_size=1, max_size=6), st.lists(st.floats(0.1, 1), max_size=2)
)
def test_no_way_of_sharing_needs_fewer_runs(loads: list[float], started: list[float]) -> None:
    """Every way of placing up to six loads, tried by itself."""
    places = pack(loads, 1.0, started)
    n = len(started)

    def filled(chosen: tuple[int, ...] | list[int]) -> list[float]:
        inside = started + [0.0] * len(loads)
        for load, place in zip(loads, chosen, strict=True):
            inside[place] += load
        return inside

    def new(chosen: tuple[int, ...] | list[int]) -> int:
        return len({p for p in chosen if p >= n})

    if len(loads) <= 4:
        ways = product(range(n + len(loads)), repeat=len(loads))
        least = min(new(way) for way in ways if max(filled(way)) <= 1.0 + 1e-12)
        assert new(places) == least
    assert max(filled(places)) <= 1.0 + 1e-9
    # New runs have no gap in their numbers.
    assert {p for p in places if p >= n} == set(range(n, n + new(places)))


def test_where_first_fit_would_need_three() -> None:
    """Greatest first leaves 0.80, 0.93 and 0.27; 0.44 + 0.29 + 0.27 and the rest fill two."""
    loads, room = [0.44, 0.36, 0.33, 0.29, 0.31, 0.27], 1.0 + 1e-9
    assert len(set(_greatest_first(loads, room, ()))) == 3
    assert len(set(pack(loads, room))) == 2


def test_many_loads_fit_too_and_say_what_was_not_tried() -> None:
    pours = [pour(f"p{i}", "backer", 9 + i % 5) for i in range(EXACT + 8)]
    plan = plan_runs(pours, Mixer(m3=0.05))
    assert [n.key for n in plan.notes] == ["not-proven-least"]
    assert max(run.m3 for run in plan.runs) <= 0.05 * CLOSE
    assert sum(run.m3 for run in plan.runs) == pytest.approx(sum(p.volume_m3 for p in pours))
    assert max(run.m3 for run in plan.runs) < 1.3 * min(run.m3 for run in plan.runs)


def test_runs_are_evened_out() -> None:
    """Four of 30 in 100 need two runs: 60 and 60, not 90 and 30."""
    plan = plan_runs([pour(f"p{i}", "backer", 30) for i in range(4)], Mixer(m3=0.1))
    assert [run.m3 for run in plan.runs] == pytest.approx([0.06, 0.06])


def test_stretches() -> None:
    assert balanced([20, 60, 30], 100) == [[0, 1], [2]]
    assert balanced([40, 45, 60], 100) == [[0, 1], [2]]
    assert balanced([10, 10], 100) == [[0, 1]]
    with pytest.raises(ValueError, match="fit the room"):
        balanced([10, 110], 100)
    with pytest.raises(ValueError, match="fit the room"):
        pack([math.nan], 1.0)


@pytest.mark.parametrize(
    ("what", "says"),
    [
        ({"piece": ""}, "needs the piece"),
        ({"layer": "middle"}, "no layer"),
        ({"volume_m3": math.nan}, "volume"),
        ({"waste": 1.5}, "waste"),
        ({"density": 0}, "density"),
    ],
)
def test_a_pour_that_cannot_be_says_so(what: dict[str, Any], says: str) -> None:
    whole: dict[str, Any] = {"piece": "a", "layer": "face", "volume_m3": 1, "density": 2080, **what}
    with pytest.raises(ValueError, match=says):
        Pour(**whole)


def test_refused() -> None:
    with pytest.raises(ValueError, match="one of them"):
        Mixer()
    with pytest.raises(ValueError, match="one of them"):
        Mixer(kg=100, m3=0.05)
    with pytest.raises(ValueError, match="capacity"):
        Mixer(kg=math.nan)
    with pytest.raises(ValueError, match="given twice"):
        plan_runs([pour("a", "face", 1), pour("a", "face", 1)], Mixer(kg=100))
    with pytest.raises(ValueError, match="choose one"):
        plan_runs([pour("a", "face", 1, "x"), pour("a", "rib", 1, "y")], Mixer(kg=100))
    with pytest.raises(ValueError, match="usual waste"):
        waste_of("bench")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="face coat"):
        layer_volumes(1, 0.01, 0.02)
    with pytest.raises(ValueError, match="area_m2"):
        layer_volumes(math.nan, 0.02, 0.0)
    with pytest.raises(ValueError, match="ribs"):
        layer_volumes(1, 0.02, 0.0, -1)
