"""A piece's section: typed, drawn, saved, refused, copied, taken away."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs.models import Piece
from jobs.services.readiness import rebuild
from shop.models import Change, Role
from tests import factories
from tests.factories import NOW
from tests.jobs.piece.conftest import signed_in
from tests.jobs.piece.section_helpers import COUNTER, INCH, PAGE, PLAIN, controls, send, words


def stored() -> dict:
    shape = Piece.objects.get(code="217-A").shape
    assert shape is not None
    return shape


def test_a_counter_with_a_sink_is_stored_in_metres(as_owner, waiting):
    answer = send(as_owner, COUNTER)

    assert answer.status_code == 302, words(answer.content.decode())
    shape = stored()
    assert shape["outline"] == "rectangle"
    assert (shape["length"], shape["width"]) == pytest.approx((96 * INCH, 25.5 * INCH))
    assert shape["edges"] == [
        {"side": "front", "width": pytest.approx(0.75 * INCH), "depth": pytest.approx(1.5 * INCH)}
    ]
    # Two ribs part 25 1/2 in into three.
    assert [rib["at"] / INCH for rib in shape["ribs"]] == pytest.approx([8.5, 17.0])
    (hole,) = shape["cutouts"]
    assert [hole[name] / INCH for name in ("x", "y", "length", "width")] == pytest.approx(
        [37.5, 4.75, 21, 16]
    )
    assert shape["strongbacks"] == []


def test_area_and_weight_follow_from_it(as_owner, waiting):
    """The face less its cutout, the front edge below it, and two ribs that the cutout interrupts."""
    send(as_owner, COUNTER)

    piece = Piece.objects.get(code="217-A")
    assert piece.area_m2 / INCH**2 == pytest.approx(96 * 25.5 - 21 * 16)
    face = piece.thickness_m / INCH
    inches = (96 * 25.5 - 21 * 16) * face + 96 * 0.75 * (1.5 - face)
    inches += 2 * 1.5 * (19 / 25.4) * (96 - 21)
    (outlook,) = (p for job in rebuild(NOW) for p in job.pieces if p.code == "217-A")
    assert outlook.weight_kg == pytest.approx(inches * INCH**3 * piece.mix.density, abs=0.01)
    assert Change.objects.count() == 0


def test_it_is_a_change_that_dates_follow(as_owner, waiting):
    send(as_owner, PLAIN)

    assert Change.objects.filter(reason__contains="217-A").exists()


def test_what_was_saved_comes_back_as_it_was_typed(as_owner, waiting):
    send(as_owner, COUNTER)

    form = controls(as_owner)
    assert form["width"] == "25 1/2"
    assert form["edge_front_depth"] == "1 1/2"
    assert (form["rib_0_count"], form["rib_0_depth"]) == ("2", "0.748")
    assert (form["cutout_0_y"], form["cutout_0_width"]) == ("4 3/4", "16")
    before = stored()
    assert send(as_owner, {}).status_code == 302
    assert stored() == before  # untouched figures are not rounded by being shown


def test_even_ribs_stay_even_when_the_piece_grows(as_owner, waiting):
    send(as_owner, COUNTER)
    send(as_owner, {"width": "30"})

    assert [rib["at"] / INCH for rib in stored()["ribs"]] == pytest.approx([10, 20])


def test_a_strongback_has_its_materials_figures_unless_others_are_typed(as_owner, waiting):
    bar = {"x": "18", "y": "21 1/4", "length": "60", "width": "3 1/2", "depth": "1 1/2"}
    typed = {f"bar_0_{name}": text for name, text in bar.items()}
    send(as_owner, COUNTER | typed | {"bar_0_material": "steel", "bar_0_bonded": "yes"})
    (stored_bar,) = stored()["strongbacks"]
    assert (stored_bar["modulus"], stored_bar["density"]) == (200_000.0, 7_850.0)
    assert stored_bar["bonded"] is True
    assert controls(as_owner)["bar_0_modulus"] == ""

    send(as_owner, {"bar_0_modulus": "10 GPa"})

    assert stored()["strongbacks"][0]["modulus"] == pytest.approx(10_000)


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        ({"length": "long"}, "length", "is not a length. Write it like 25 1/2"),
        ({"length": ""}, "length", "Fill this in"),
        (
            {"edge_front_width": "26"},
            "edge_front_width",
            "is 26 in wide, and the piece has 25 1/2 in there",
        ),
        (
            {"edge_front_depth": "1/2"},
            "edge_front_depth",
            "must reach below the slab's 3/4 in. This one has 1/2 in",
        ),
        ({"edge_left_width": "1"}, "edge_left_depth", "Fill this in, too"),
        ({"rib_0_how": "at", "rib_0_at": "26"}, "rib_0_at", "Rib 1 lies outside the piece"),
        ({"rib_0_how": "at"}, "rib_0_at", "Fill this in, too"),
        ({"rib_0_count": "many"}, "rib_0_count", "whole number"),
        ({"cutout_0_x": "97"}, "cutout_0_x", "Cutout 1 lies outside the piece"),
        ({"cutout_0_y": "-20"}, "cutout_0_y", "Cutout 1 lies outside the piece"),
        ({"cutout_0_y": "-1"}, "cutout_0_y", "Cutout 1 runs across the outline here"),
        (
            {"cutout_0_y": "-1", "cutout_0_width": "30", "cutout_0_opens": "yes"},
            "cutout_0_length",
            "in two",
        ),
        ({"cutout_0_x": ""}, "cutout_0_x", "Fill this in, too"),
        (
            {f"bar_0_{n}": "60" for n in ("x", "length")}
            | {f"bar_0_{n}": "2" for n in ("y", "width", "depth")},
            "bar_0_x",
            "This strongback runs off the piece",
        ),
        ({"length": "1e400"}, "length", "not a unit"),
        ({"length": "400 ft"}, "length", "At most"),
    ],
)
def test_what_cannot_be_is_said_at_its_field_and_stays_typed(as_owner, waiting, typed, field, said):
    answer = send(as_owner, COUNTER | typed)

    assert answer.status_code == 422
    errors = answer.context["form"].errors
    assert said in str(errors[field][0]), dict(errors)
    page = answer.content.decode()
    assert f'id="id_{field}_error"' in page
    for name, text in (COUNTER | typed).items():
        assert answer.context["form"][name].value() == text
    assert Piece.objects.get(code="217-A").shape is None


def test_two_cutouts_that_part_the_piece_together_are_refused(as_owner, waiting):
    second = {"length": "10", "width": "6", "x": "40", "y": "-1", "opens": "yes"}
    third = {"length": "10", "width": "6", "x": "40", "y": "20", "opens": "yes"}
    opened = controls(as_owner) | {"cutouts": "3"}
    typed = {f"cutout_1_{name}": text for name, text in second.items()}
    typed |= {f"cutout_2_{name}": text for name, text in third.items()}
    answer = send(as_owner, COUNTER | typed, opened)

    assert answer.status_code == 422
    assert "cut the piece in two" in str(answer.context["form"].errors["cutout_2_length"])


def test_the_plan_is_drawn_while_it_is_typed(as_owner, waiting):
    answer = as_owner.post(f"{PAGE}plan/", controls(as_owner) | COUNTER)
    part = answer.content.decode()

    assert answer.status_code == 200
    assert "<html" not in part
    assert part.count("<svg xmlns") == 3 * 2  # face, underside, section; for a desk and a phone
    face, _phone, underside = part.split("</svg>")[:3]
    assert face.count('class="of-cutout"') == 4
    # Each of the two ribs is parted by the sink.
    for kind, count in {"rib": 4, "edge": 1, "bar": 0}.items():
        assert underside.count(f'class="of-{kind}"') == count
    text = words(part)
    for dimension in ("96 in", "25 1/2 in", "37 1/2", "21 × 16", "4 3/4"):
        assert dimension in text
    assert "Weakest cut 48 in from the left end" in text
    assert "14.7 ft²" in text
    assert "3 people, 45 lb each" in text  # 1,802 in³ at 129.85 lb/ft³, 135.4 lb
    assert Piece.objects.get(code="217-A").shape is None


def test_the_plan_says_why_it_is_not_drawn(as_owner, waiting):
    typed = COUNTER | {"cutout_0_x": "97"}
    text = words(as_owner.post(f"{PAGE}plan/", controls(as_owner) | typed).content.decode())

    assert "Cutout 1, From the left end: Cutout 1 lies outside" in text


def test_another_row_keeps_what_was_typed(as_owner, waiting):
    answer = send(as_owner, COUNTER | {"length": "wide", "more": "cutout"})
    page = answer.content.decode()

    assert answer.status_code == 200
    assert 'name="cutout_1_x"' in page
    assert 'value="wide"' in page
    assert 'class="errors"' not in page
    part = as_owner.post(PAGE, COUNTER | {"more": "rib"}, headers={"HX-Request": "true"})
    assert part.content.decode().lstrip().startswith("<form")


def test_the_second_to_save_keeps_what_was_typed_and_sees_what_changed(as_owner, waiting):
    opened = controls(as_owner)
    send(as_owner, COUNTER)

    answer = send(as_owner, PLAIN | {"width": "24"}, opened)

    assert answer.status_code == 409
    text = words(answer.content.decode())
    assert "Width : now 25 1/2 in, yours is 24 in" in text
    assert "now 37 1/2 in. You had not touched it" in text
    assert stored()["width"] == pytest.approx(25.5 * INCH)
    form = answer.context["form"]
    again = {name: form[name].value() or "" for name in form.fields}
    assert as_owner.post(PAGE, again).status_code == 302
    assert stored()["width"] == pytest.approx(24 * INCH)
    assert len(stored()["cutouts"]) == 1


def test_a_section_is_copied_from_another_piece_of_the_job(as_owner, waiting):
    send(as_owner, COUNTER)
    factories.make_piece(waiting.job, "B")
    page = as_owner.get("/pieces/217-B/section/").content.decode()
    assert "?from=A" in page

    copied = as_owner.get("/pieces/217-B/section/?from=A")

    assert copied.context["form"]["cutout_0_x"].value() == "37 1/2"
    assert "not saved yet" in copied.content.decode()
    assert Piece.objects.get(code="217-B").shape is None
    form = copied.context["form"]
    sent = {name: form[name].value() or "" for name in form.fields}
    assert as_owner.post("/pieces/217-B/section/", sent).status_code == 302
    assert len(Piece.objects.get(code="217-B").shape["ribs"]) == 2


def test_taken_away_it_is_a_plain_slab_of_the_same_area(as_owner, waiting):
    send(as_owner, COUNTER)
    area = Piece.objects.get(code="217-A").area_m2
    stale = as_owner.post(f"{PAGE}remove/", {"version": "1"}, follow=True)
    assert "Somebody else saved this" in stale.content.decode()
    assert stored()

    as_owner.post(f"{PAGE}remove/", {"version": Piece.objects.get(code="217-A").version})

    piece = Piece.objects.get(code="217-A")
    assert piece.shape is None
    assert piece.area_m2 == area


def test_a_closed_jobs_piece_keeps_its_section(as_owner, waiting):
    opened = controls(as_owner)
    waiting.job.closed_at = NOW
    waiting.job.save()

    answer = send(as_owner, PLAIN, opened)

    assert answer.status_code == 422
    assert "no longer open" in answer.content.decode()


def test_a_thickness_that_the_section_cannot_have_is_refused_at_its_field(as_owner, waiting):
    send(as_owner, COUNTER)
    address = "/office/jobs/217/pieces/A/"
    page = as_owner.get(address)
    form = page.context["form"]
    assert "area_m2" not in form.fields
    sent = {name: form[name].value() or "" for name in form.fields} | {"thickness_m": "2"}

    answer = as_owner.post(address, sent)

    assert answer.status_code == 422
    assert "Change its section first" in str(answer.context["form"].errors["thickness_m"])
    sent["thickness_m"] = "1"
    assert as_owner.post(address, sent).status_code == 302
    assert stored()["length"] == pytest.approx(96 * INCH)


@pytest.mark.parametrize("role", [Role.OFFICE, Role.OWNER])
def test_office_and_owner_enter_it(waiting, role):
    assert send(signed_in(factories.make_person(role)), PLAIN).status_code == 302


def test_in_millimetres(as_owner, waiting):
    factories.make_shop(units="si")
    send(as_owner, {"length": "2440", "width": "648"})

    assert stored()["length"] == pytest.approx(2.44)
    assert controls(as_owner)["length"] == "2440"


def test_as_many_queries_for_many_rows_as_for_none(as_owner, waiting):
    def queries(typed: dict[str, str]) -> int:
        with CaptureQueriesContext(connection) as found:
            assert as_owner.post(f"{PAGE}plan/", typed).status_code == 200
        return len(found)

    assert queries(COUNTER) == queries({})


def test_nothing_unknown_is_a_server_error(as_owner, waiting):
    assert as_owner.get("/pieces/999-Z/section/").status_code == 404
    assert as_owner.post(PAGE, {"ribs": "99999999", "bars": "x"}).status_code == 422
    assert as_owner.post(f"{PAGE}remove/", {"version": "²"}).status_code == 302
    assert as_owner.post(f"{PAGE}remove/", {"version": "9" * 5000}).status_code == 302


def test_a_section_that_its_thickness_left_behind_can_still_be_mended(as_owner, waiting):
    send(as_owner, COUNTER)
    Piece.objects.update(thickness_m=0.05)  # deeper than the front edge, past the services

    page = as_owner.get(PAGE)

    assert page.status_code == 200
    assert "Not drawn: the section does not go" in words(page.content.decode()).replace(
        "&#x27;", "'"
    )
    assert "does not go with this piece" in words(as_owner.get("/pieces/217-A/").content.decode())
    assert send(as_owner, {"edge_front_depth": "2 1/2"}).status_code == 302
