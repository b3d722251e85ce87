"""Every outline typed, saved and read back; what cannot be is told at its field and marked."""

from __future__ import annotations

import copy
import json
import math

import pytest

from jobs.models import Piece
from jobs.services.shape import panel_of, weight_kg
from jobs.shapes.path import MOST_POINTS
from jobs.shapes.stored import read
from tests import factories
from tests.jobs.piece.section_helpers import COUNTER, INCH, PAGE, controls, send, words

ROUND_HOLE = {
    "cutout_0_figure": "circle",
    "cutout_0_diameter": "1 3/8",
    "cutout_0_cx": "20",
    "cutout_0_cy": "20",
    "cutout_0_use": "faucet hole",
}
EL = {
    "outline": "L",
    "length": "96",
    "width": "60",
    "corner": "back right",
    "notch_length": "70 1/2",
    "notch_width": "34 1/2",
}
CORNERS = {
    "outline": "polygon",
    "point_0_x": "0", "point_0_y": "0",
    "point_1_x": "60", "point_1_y": "0", "point_1_radius": "3",
    "point_2_x": "60", "point_2_y": "25 1/2",
    "point_3_x": "0", "point_3_y": "25 1/2", "point_3_bow": "2",
}  # fmt: skip
# (what is typed, area of the face in², by hand; 0.01 % for arcs that are reckoned as chords)
OUTLINES = {
    "rectangle": (COUNTER, 96 * 25.5 - 21 * 16),
    "L": (EL | {"edge_notch_along_width": "1", "edge_notch_along_depth": "1 1/2"},
          96 * 60 - 70.5 * 34.5),
    "U": ({"outline": "U", "length": "8 ft", "width": "40", "side": "back", "notch_x": "24",
           "notch_length": "48", "notch_width": "20", "edge_all_width": "1 1/2",
           "edge_all_depth": "1 1/2"}, 96 * 40 - 48 * 20),
    "circle": ({"outline": "circle", "diameter": "42", "edge_round_width": "1",
                "edge_round_depth": "1.5"}, math.pi * 21**2),
    "rounded": ({"outline": "rounded", "length": "72", "width": "36", "radius": "6",
                 "edge_front_left_width": "1", "edge_front_left_depth": "1 1/2"} | ROUND_HOLE,
                72 * 36 - 36 * (4 - math.pi) - math.pi * 0.6875**2),
    # A rounding of 3 in takes r² (1 - π / 4); a bow of 2 in over 25 1/2 in adds the segment of a
    # circle of (12.75² + 2²) / 4 in, r² / 2 (a - sin a) with a = 2 asin(12.75 / r): 34.29 in².
    "polygon": (CORNERS | {"rim_0_sides": "1-2", "rim_0_width": "1", "rim_0_depth": "1 1/2"},
                60 * 25.5 - 9 * (1 - math.pi / 4) + 34.29),
}  # fmt: skip


def piece() -> Piece:
    return Piece.objects.select_related("mix").get(code="217-A")


@pytest.mark.parametrize("kind", sorted(OUTLINES))
def test_an_outline_is_saved_and_comes_back_as_it_was(as_owner, waiting, kind):
    typed, area = OUTLINES[kind]
    answer = send(as_owner, typed)

    assert answer.status_code == 302, dict(answer.context["form"].errors)
    saved = piece()
    assert saved.area_m2 / INCH**2 == pytest.approx(area, rel=2e-4)
    assert panel_of(saved) is not None
    assert weight_kg(saved) > saved.area_m2 * saved.thickness_m * saved.mix.density * 0.999
    back = controls(as_owner)
    for name in typed:
        assert back[name] not in ("", None), name
    before = copy.deepcopy(saved.shape)
    assert send(as_owner, {}).status_code == 302
    assert piece().shape == before


def test_a_plain_rectangle_is_stored_as_it_always_was(as_owner, waiting):
    send(as_owner, COUNTER)

    stored = piece().shape
    assert set(stored) == {"outline", "length", "width", "edges", "ribs", "cutouts", "strongbacks"}
    assert set(stored["cutouts"][0]) == {"x", "y", "length", "width", "around"}
    assert set(stored["ribs"][0]) == {"at", "width", "depth", "along", "row"}


def test_an_l_has_six_sides_and_each_its_own_edge(as_owner, waiting):
    sides = ("front", "right", "notch_along", "notch_across", "back", "left")
    typed = {f"edge_{side}_width": "1" for side in sides}
    typed |= {f"edge_{side}_depth": str(1 + n / 8) for n, side in enumerate(sides, 1)}

    send(as_owner, EL | typed)

    depths = {edge["side"]: edge["depth"] / INCH for edge in piece().shape["edges"]}
    assert depths == pytest.approx(
        {side.replace("_", " "): 1 + n / 8 for n, side in enumerate(sides, 1)}
    )


def test_a_side_that_the_outline_does_not_have_counts_for_nothing(as_owner, waiting):
    """What stood in a field before another outline was chosen, sense or nonsense."""
    send(as_owner, COUNTER | {"notch_length": "wide", "edge_round_width": "?", "diameter": "x"})

    assert [edge["side"] for edge in piece().shape["edges"]] == ["front"]


@pytest.mark.parametrize(
    ("rib", "stored"),
    [
        ({"how": "spacing", "spacing": "20", "along": "width"}, {"spacing": 20 * INCH}),
        ({"how": "at", "at": "12", "along": "length"}, {"at": 12 * INCH}),
        (
            {"how": "points", "x0": "2", "y0": "3", "x1": "30", "y1": "22"},
            {"start": [2 * INCH, 3 * INCH], "end": [30 * INCH, 22 * INCH]},
        ),
    ],
)
def test_ribs_in_each_way(as_owner, waiting, rib, stored):
    typed = {f"rib_0_{name}": text for name, text in rib.items()}
    typed |= {"rib_0_width": "1 1/4", "rib_0_depth": "3/4", "length": "96", "width": "25 1/2"}

    assert send(as_owner, typed).status_code == 302

    (kept,) = piece().shape["ribs"]
    for name, value in stored.items():
        assert kept[name] == pytest.approx(value)
    assert controls(as_owner)["rib_0_how"] == rib["how"]


def test_an_apron_sink_opens_the_front_because_it_is_said_so(as_owner, waiting):
    apron = COUNTER | {"cutout_0_y": "0", "cutout_0_use": "sink"}
    assert send(as_owner, apron).status_code == 422

    assert send(as_owner, apron | {"cutout_0_opens": "yes"}).status_code == 302
    (hole,) = piece().shape["cutouts"]
    assert (hole["opens"], hole["use"]) == (True, "sink")
    assert controls(as_owner)["cutout_0_opens"] == "yes"


def test_a_cutout_with_round_corners_and_one_that_is_round(as_owner, waiting):
    hole = {"figure": "circle", "diameter": "1 3/8", "cx": "48", "cy": "23"}
    typed = COUNTER | {"cutout_0_radius": "3/4"}
    typed |= {f"cutout_1_{name}": text for name, text in hole.items()}
    typed |= {"cutout_1_use": "other", "cutout_1_called": "soap"}
    send(as_owner, typed, controls(as_owner) | {"cutouts": "2"})

    sink, soap = piece().shape["cutouts"]
    assert (sink["figure"], sink["radius"]) == ("rounded", pytest.approx(0.75 * INCH))
    assert (soap["figure"], soap["use"]) == ("circle", "soap")
    # Stored by the box around it: half of 1 3/8 in before the middle.
    assert soap["x"] / INCH == pytest.approx(48 - 0.6875)
    back = controls(as_owner)
    assert (back["cutout_1_cx"], back["cutout_1_called"]) == ("48", "soap")


def test_a_cutout_that_was_drawn_stays_as_it_was_drawn(as_owner, waiting):
    send(as_owner, COUNTER)
    shape = piece().shape
    drawn = {"points": [[0, 0], [0.5, 0], [0.4, 0.3]], "bulges": [0.0, 0.2, 0.0]}
    shape["cutouts"] = [{"x": 0.3, "y": 0.1, "figure": "polygon", "opens": False, **drawn}]
    Piece.objects.update(shape=shape)

    assert send(as_owner, {"cutout_0_use": "sink"}).status_code == 302

    (hole,) = piece().shape["cutouts"]
    assert hole["points"] == drawn["points"]
    assert (hole["bulges"], hole["use"]) == (drawn["bulges"], "sink")
    assert (hole["x"], hole["y"]) == pytest.approx((0.3, 0.1))


@pytest.mark.parametrize("drawn", ["", "{", '{"points": [[0]]}', '{"points": 3, "bulges": []}'])
def test_a_drawn_cutout_that_cannot_be_read_is_refused(as_owner, waiting, drawn):
    typed = COUNTER | {"cutout_0_figure": "polygon", "cutout_0_drawn": drawn}

    assert send(as_owner, typed).status_code == 422


def test_an_inlay_is_a_note_with_its_place(as_owner, waiting):
    note = {"words": "brass trivet", "x": "70", "y": "8", "length": "8", "width": "8"}
    weight = weight_kg(piece())
    send(as_owner, COUNTER)
    weight = weight_kg(piece())

    send(as_owner, {f"inlay_0_{name}": text for name, text in note.items()})

    saved = piece()
    assert saved.shape["inlays"] == [
        {"words": "brass trivet", "x": 70 * INCH, "y": 8 * INCH, "length": 8 * INCH,
         "width": 8 * INCH}
    ]  # fmt: skip
    assert weight_kg(saved) == pytest.approx(weight)
    assert controls(as_owner)["inlay_0_words"] == "brass trivet"


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        (COUNTER | {"cutout_0_y": "-2"}, "cutout_0_y", "runs across the outline"),
        (COUNTER | {"cutout_0_x": "80"}, "cutout_0_x", "runs across the outline"),
        (EL | ROUND_HOLE | {"cutout_0_cx": "60", "cutout_0_cy": "50"}, "cutout_0_c", "outside"),
        (EL | {"edge_left_width": "97", "edge_left_depth": "2"}, "edge_left_width", "97 in wide"),
        (
            COUNTER | {"rib_0_how": "points", "rib_0_x0": "2", "rib_0_y0": "12", "rib_0_x1": "90",
                       "rib_0_y1": "12"},
            "rib_0_x0",
            "Rib 1 runs through cutout 1 here",
        ),
        (
            CORNERS | {"point_1_radius": "", "point_2_x": "0", "point_3_x": "60",
                       "point_3_bow": ""},
            "point_",
            "crosses or touches itself",
        ),
        (
            COUNTER | {"inlay_0_words": "plate", "inlay_0_x": "95", "inlay_0_y": "2",
                       "inlay_0_length": "4"},
            "inlay_0_x",
            "does not lie on the piece",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_is_marked_on_the_drawing_and_told_at_its_field(
    as_owner, waiting, typed, field, said
):
    answer = as_owner.post(f"{PAGE}plan/", controls(as_owner) | typed)

    errors = answer.context["form"].errors
    ((name, told),) = errors.items()
    assert name.startswith(field)
    assert said in str(told[0])
    part = answer.content.decode()
    assert "Where it cannot be" in part
    assert part.count('class="of-mark"') >= 2  # for a desk and for a phone

    saved = send(as_owner, typed)
    assert saved.status_code == 422
    assert 'class="of-mark"' in saved.content.decode()
    assert piece().shape is None
    for name, text in typed.items():
        assert saved.context["form"][name].value() == text


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        (EL | {"notch_length": "97"}, "notch_length", "The notch takes 97 in of 96 in"),
        (EL | {"notch_width": "60"}, "notch_width", "The notch takes 60 in of 60 in"),
        (EL | {"notch_width": ""}, "notch_width", "Fill this in"),
        (
            {"outline": "rounded", "length": "20", "width": "10", "radius": "6"},
            "radius",
            "5 in is the most here",
        ),
        ({"outline": "circle"}, "diameter", "Fill this in"),
        ({"outline": "circle", "diameter": "0"}, "diameter", "At least"),
        ({"outline": "hexagon", "length": "9"}, "outline", "Choose another"),
        (CORNERS | {"point_1_radius": "40"}, "point_1_radius", "too large"),
        (CORNERS | {"point_2_y": "0"}, "point_2_x", "stands twice"),
        (CORNERS | {"point_2_y": ""}, "point_2_y", "Fill this in, too"),
        ({"outline": "polygon"}, "point_0_x", "needs three corners"),
        (CORNERS | {"rim_0_sides": "front", "rim_0_width": "1", "rim_0_depth": "2"},
         "rim_0_sides", "like 1, 3-5"),
        (CORNERS | {"rim_0_sides": "9", "rim_0_width": "1", "rim_0_depth": "2"},
         "rim_0_sides", "no corner 9: this outline has 4"),
        (CORNERS | {"rim_0_sides": "1", "rim_0_width": "1", "rim_0_depth": "1/4"},
         "rim_0_depth", "must reach below"),
        (COUNTER | {"rib_0_how": "spacing", "rib_0_spacing": "1/4"}, "rib_0_spacing", "makes 101"),
        ({"outline": "polygon", "lines": "0, 0\n1, 2, 3, 4, 5"}, "lines", "Line 2: a corner"),
        ({"outline": "polygon", "lines": "0, 0\n9, wide\n3, 3"}, "lines", "Line 2: 'wide'"),
        ({"outline": "polygon", "lines": "0, 0\n30, 0\n0, 20\n30, 20"}, "lines", "crosses"),
    ],
)  # fmt: skip
def test_what_is_no_outline_is_told_at_its_field(as_owner, waiting, typed, field, said):
    answer = send(as_owner, typed)

    assert answer.status_code == 422
    errors = answer.context["form"].errors
    assert said in str(errors[field][0]), dict(errors)


def test_corners_are_pasted_as_lines(as_owner, waiting):
    """As from a table; the first may stand again at the end."""
    text = "0, 0\r\n5', 0, 3\r\n60, 25 1/2\r\n0\t25-1/2\"\r\n0, 0"
    send(as_owner, {"outline": "polygon", "lines": text})

    shape = piece().shape
    assert shape["corners"][1] == pytest.approx([60 * INCH, 0, 3 * INCH, 0])
    assert len(shape["points"]) == 5  # four corners, one of them rounded
    assert controls(as_owner)["point_3_y"] == "25 1/2"


def test_a_long_line_of_corners_comes_back_as_lines_and_is_not_rounded(as_owner, waiting):
    turn = 2 * math.pi / 60
    points = [[0.5 + 0.5 * math.cos(n * turn), 0.5 + 0.4 * math.sin(n * turn)] for n in range(60)]
    shape = {"outline": "polygon", "points": points, "bulges": [0.0] * 60, "length": 1.0,
             "width": 0.8}  # fmt: skip
    Piece.objects.update(shape=shape)

    opened = controls(as_owner)
    assert opened["lines"].count("\n") == 59
    assert send(as_owner, {"edge_all_width": "1", "edge_all_depth": "1 1/2"}).status_code == 302

    assert piece().shape["points"] == points


def test_ten_thousand_corners_are_refused_by_their_count(as_owner, waiting):
    text = "\n".join(f"{n}, {n % 100}" for n in range(10_000))
    answer = send(as_owner, {"outline": "polygon", "lines": text})

    assert answer.status_code == 422
    told = str(answer.context["form"].errors["lines"][0])
    assert f"{MOST_POINTS} are the most" in told
    assert answer.context["form"]["lines"].value() == text
    counted = {"outline": "polygon", "points": "9999"}
    assert send(as_owner, counted).context["form"].rows["point"] <= 24


def test_a_piece_without_thickness_has_no_plan_and_no_crash(as_owner, waiting):
    opened = controls(as_owner)
    Piece.objects.update(thickness_m=0)

    answer = send(as_owner, COUNTER, opened)

    assert answer.status_code == 422
    assert "thickness must be above nought" in words(answer.content.decode())


def test_a_face_coat_thicker_than_the_slab_is_refused(as_owner, waiting):
    Piece.objects.update(coat_m=0.03)

    answer = send(as_owner, COUNTER)

    assert answer.status_code == 422
    assert "thicker than the whole slab" in words(answer.content.decode())


def test_a_usual_cutout_fills_a_row_in_the_middle(as_owner, waiting):
    sized = controls(as_owner) | {"length": "96", "width": "25 1/2"}
    answer = as_owner.post(PAGE, sized | {"more": "cutout:sink"})
    form = answer.context["form"]

    assert form["cutout_0_length"].value() == "30"
    assert (form["cutout_0_x"].value(), form["cutout_0_y"].value()) == ("33", "4 3/4")
    typed = {name: form[name].value() or "" for name in form.fields}
    faucet = as_owner.post(PAGE, typed | {"more": "cutout:faucet"}).context["form"]
    assert faucet.rows["cutout"] == 2
    # Behind the sink, midway from its back at 20 3/4 in to the piece's at 25 1/2 in.
    assert (faucet["cutout_1_cx"].value(), faucet["cutout_1_cy"].value()) == ("48", "23 1/8")
    typed = {name: faucet[name].value() or "" for name in faucet.fields}
    assert as_owner.post(PAGE, typed).status_code == 302
    assert [hole["use"] for hole in piece().shape["cutouts"]] == ["sink", "faucet hole"]


def test_a_stored_cutout_past_a_side_still_opens_it(as_owner, waiting):
    """Stored before it was asked whether it opens one."""
    send(as_owner, COUNTER)
    shape = piece().shape
    shape["cutouts"][0]["y"] = -0.05
    Piece.objects.update(shape=shape)

    assert controls(as_owner)["cutout_0_opens"] == "yes"
    assert send(as_owner, {}).status_code == 302


def test_an_outline_is_copied_with_all_its_parts(as_owner, waiting):
    send(as_owner, OUTLINES["polygon"][0] | ROUND_HOLE)
    factories.make_piece(waiting.job, "B")

    form = as_owner.get("/pieces/217-B/section/?from=A").context["form"]
    typed = {name: form[name].value() or "" for name in form.fields}
    assert as_owner.post("/pieces/217-B/section/", typed).status_code == 302

    one, other = (Piece.objects.get(code=f"217-{letter}").shape for letter in "AB")
    assert read(one).outline.path.polygon.equals_exact(read(other).outline.path.polygon, 1e-4)
    assert json.dumps(one["edges"]) == json.dumps(other["edges"])


def test_who_changed_the_outline_meanwhile_is_told(as_owner, waiting):
    opened = controls(as_owner)
    send(as_owner, {"outline": "circle", "diameter": "42"})

    answer = send(as_owner, COUNTER, opened)

    assert answer.status_code == 409
    assert "Outline : now Circle" in words(answer.content.decode())
