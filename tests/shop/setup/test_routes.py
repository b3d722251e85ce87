from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from shop.models import Change, Route, RouteStep, Shop
from shop.services import routes
from shop.services.errors import Refused
from tests.factories import make_job, make_mark, make_piece, make_route
from tests.shop.setup.helpers import text, typed


def keys(route: Route) -> list[str]:
    return list(route.steps.values_list("key", flat=True))


def step_of(route: Route, key: str) -> RouteStep:
    return route.steps.get(key=key)


def add(route: Route, name: str, kind: str = "other", **values: object) -> RouteStep:
    return routes.add_step(route_id=route.pk, values={"name": name, "kind": kind, **values})


def test_no_routes_yet_says_what_a_route_is(owners: Client) -> None:
    assert "A route is the ordered steps" in text(owners.get(reverse("routes")))


def test_a_new_route_begins_with_its_cast(owners: Client) -> None:
    owners.post(reverse("new-route"), {"name": "Wall panel"})
    assert keys(Route.objects.get()) == ["cast"]


def test_a_new_route_can_begin_as_a_copy_and_the_first_stays(owners: Client) -> None:
    first = make_route()
    owners.post(reverse("new-route"), {"name": "Wall panel", "like": str(first.pk)})
    copy = Route.objects.get(name="Wall panel")
    assert keys(copy) == keys(first)
    assert step_of(copy, "demold").strength_mpa == step_of(first, "demold").strength_mpa
    assert first.steps.count() == len(keys(copy)) > 5


def test_where_pieces_are_marked_is_said_once(owners: Client) -> None:
    route = make_route()
    piece = make_piece(make_job("217"), route=route)
    make_mark(piece, "cast")
    address = reverse("route", args=[route.pk])
    shown = text(owners.get(address))
    assert shown.count("Pieces are marked") == 1
    assert "so they can't be deleted: cast." in shown.replace("&#x27;", "'")
    for step in route.steps.all():
        make_mark(piece, f"{step.key}-1" if step.kind == "coat" else step.key)
    assert "Pieces are marked at every step" in text(owners.get(address))


def test_the_warmth_of_a_standard_is_said_in_the_shops_degrees(owners: Client) -> None:
    route = make_route()
    addresses = [
        reverse("route", args=[route.pk]),
        reverse("step", args=[route.pk, step_of(route, "demold").pk]),
    ]
    for address in addresses:
        assert "at 68 °F" in text(owners.get(address))
    Shop.objects.update(units="si")
    for address in addresses:
        assert "at 20 °C" in text(owners.get(address))
        assert "°F" not in text(owners.get(address))


def test_a_step_is_added_last_with_a_key_from_its_name(owners: Client) -> None:
    route = make_route()
    address = reverse("new-step", args=[route.pk])
    changes = {
        "name": "Fit brackets",
        "labour_hours_m2": "0,1",
        "strength_mpa": "3000",
        "drying_hours": "",
    }
    answer = owners.post(address, typed(owners.get(address), **changes))
    assert answer.status_code == 302
    step = step_of(route, "fit-brackets")
    assert step.place == route.steps.count()
    assert step.labour_hours_m2 == pytest.approx(1.0764, abs=0.001)
    assert step.strength_mpa == pytest.approx(20.684, abs=0.001)
    assert Change.objects.exists()


def test_a_step_waits_for_the_pieces_own_section_where_that_is_ticked(owners: Client) -> None:
    route = make_route()
    by_section = {step.key for step in route.steps.all() if step.by_section}
    assert by_section == {"demold", "crate", "deliver"}  # what a new shop starts with
    page = reverse("route", args=[route.pk])
    assert text(owners.get(page)).count("as strong as lifting the piece asks") == 3
    address = reverse("step", args=[route.pk, step_of(route, "demold").pk])
    assert "the gentlest way of stripping and the flip" in text(owners.get(address))

    owners.post(address, typed(owners.get(address), by_section=None))

    assert not step_of(route, "demold").by_section
    assert step_of(route, "demold").strength_mpa == pytest.approx(17.2369)
    assert text(owners.get(page)).count("as strong as lifting the piece asks") == 2


def test_keys_never_meet_even_for_names_that_look_like_coats(owners: Client) -> None:
    route = make_route()
    names = ["Grind", "grind", "seal 1", "seal-2", "!!!", "Último pulido", "x" * 40]
    made = [add(route, name[:40]).key for name in names]
    assert made[:5] == ["grind-b", "grind-c", "seal-b", "seal-c", "step"]
    assert len(set(keys(route))) == len(keys(route))
    assert all(len(key) <= 30 for key in keys(route))


def test_renaming_a_step_keeps_its_key(owners: Client) -> None:
    route = make_route()
    address = reverse("step", args=[route.pk, step_of(route, "grind").pk])
    owners.post(address, typed(owners.get(address), name="Coarse grind"))
    assert step_of(route, "grind").name == "Coarse grind"


def test_steps_move_up_and_down_and_the_cast_stays_first(owners: Client) -> None:
    route = make_route()
    demold, grind, cast = (step_of(route, key) for key in ("demold", "grind", "cast"))
    owners.post(reverse("move-step", args=[route.pk, grind.pk]), {"to": "up"})
    assert keys(route)[:3] == ["cast", "grind", "demold"]
    owners.post(reverse("move-step", args=[route.pk, grind.pk]), {"to": "down"})
    assert keys(route)[:3] == ["cast", "demold", "grind"]
    answer = owners.post(
        reverse("move-step", args=[route.pk, demold.pk]), {"to": "up"}, follow=True
    )
    assert "exactly one cast, and it comes first" in text(answer)
    owners.post(reverse("move-step", args=[route.pk, cast.pk]), {"to": "up"})
    assert keys(route)[:2] == ["cast", "demold"]


def test_what_waits_for_the_sealer_stays_behind_its_coats(owners: Client) -> None:
    route = make_route()
    crate = step_of(route, "crate")
    answer = owners.post(reverse("move-step", args=[route.pk, crate.pk]), {"to": "up"}, follow=True)
    assert "comes after the seal coats" in text(answer)
    answer = owners.post(
        reverse("delete-step", args=[route.pk, step_of(route, "seal").pk]), follow=True
    )
    assert "comes after the seal coats" in text(answer)
    assert "seal" in keys(route)


@pytest.mark.parametrize(
    ("key", "change", "word"),
    [
        ("grind", {"kind": "cast"}, "exactly one cast"),
        ("cast", {"kind": "grind"}, "exactly one cast"),
        ("grind", {"kind": "coat"}, "one already"),
        ("grind", {"after_sealer_cure": "on"}, "comes after the seal coats"),
        ("deliver", {"drying_hours": "24"}, "Put the drying on the coat step"),
        ("grind", {"people": "0"}, "At least 1"),
        ("grind", {"strength_mpa": "-1"}, "At least 0 psi"),
        ("grind", {"hours_after_cast": "1e9"}, "At most 2000"),
        ("grind", {"kind": "polish"}, "Choose another"),
    ],
)
def test_a_step_that_cannot_be_is_refused_and_kept_on_the_form(
    owners: Client, key: str, change: dict[str, str], word: str
) -> None:
    route = make_route()
    step = step_of(route, key)
    address = reverse("step", args=[route.pk, step.pk])
    answer = owners.post(address, typed(owners.get(address), name="As typed", **change))
    assert answer.status_code == 422
    assert word in text(answer)
    assert typed(answer)["name"] == "As typed"
    step.refresh_from_db()
    assert step.name != "As typed"


def test_a_step_with_marks_is_neither_deleted_nor_made_another_kind(owners: Client) -> None:
    route = make_route()
    piece = make_piece(make_job(), route=route)
    make_mark(piece, "grind")
    make_mark(piece, "seal-1")
    for key in ("grind", "seal"):
        step = step_of(route, key)
        answer = owners.post(reverse("delete-step", args=[route.pk, step.pk]), follow=True)
        assert "Pieces are marked at" in text(answer)
    address = reverse("step", args=[route.pk, step_of(route, "grind").pk])
    answer = owners.post(address, typed(owners.get(address), kind="hone"))
    assert answer.status_code == 422
    assert "its kind stays" in text(answer)
    assert {"grind", "seal"} <= set(keys(route))


def test_a_step_without_marks_is_deleted_and_the_rest_close_up(owners: Client) -> None:
    route = make_route()
    owners.post(reverse("delete-step", args=[route.pk, step_of(route, "fill").pk]))
    assert "fill" not in keys(route)
    places = list(route.steps.values_list("place", flat=True))
    assert places == list(range(1, len(places) + 1))


def test_the_cast_is_never_deleted(owners: Client) -> None:
    route = make_route()
    owners.post(reverse("delete-step", args=[route.pk, step_of(route, "cast").pk]))
    assert keys(route)[0] == "cast"


def test_two_editors_of_one_step_lose_nothing(owners: Client) -> None:
    route = make_route()
    address = reverse("step", args=[route.pk, step_of(route, "demold").pk])
    mine = typed(owners.get(address), equivalent_hours="30")
    owners.post(address, typed(owners.get(address), equivalent_hours="24", people="3"))
    answer = owners.post(address, mine)
    assert answer.status_code == 409
    assert "now 24 h, yours is 30 h" in text(answer)
    assert owners.post(address, typed(answer)).status_code == 302
    demold = step_of(route, "demold")
    assert (demold.equivalent_hours, demold.people) == (30.0, 3)


def test_a_step_saved_after_another_was_moved_is_told_so(owners: Client) -> None:
    route = make_route()
    address = reverse("step", args=[route.pk, step_of(route, "demold").pk])
    mine = typed(owners.get(address), people="3")
    owners.post(reverse("move-step", args=[route.pk, step_of(route, "hone").pk]), {"to": "up"})
    answer = owners.post(address, mine)
    assert answer.status_code == 409
    assert "not among the fields below" in text(answer)
    assert owners.post(address, typed(answer)).status_code == 302


def test_a_step_of_another_route_is_not_found_under_this_one(owners: Client) -> None:
    one = make_route()
    other = make_route("Another", steps=({"key": "cast", "kind": "cast", "name": "cast"},))
    foreign = step_of(other, "cast").pk
    for name in ("step", "move-step", "delete-step"):
        assert owners.post(reverse(name, args=[one.pk, foreign])).status_code == 404


def test_a_route_with_pieces_stays_and_is_taken_out_of_use(owners: Client) -> None:
    route = make_route()
    make_piece(make_job(), route=route)
    answer = owners.post(reverse("delete-route", args=[route.pk]), follow=True)
    assert "Take it out of use instead" in text(answer)
    address = reverse("route", args=[route.pk])
    owners.post(address, typed(owners.get(address), address, in_use=None))
    route.refresh_from_db()
    assert not route.in_use


def test_a_route_ends_somewhere(owners: Client) -> None:
    route = make_route()
    for number in range(24 - route.steps.count()):
        add(route, f"Extra {number}")
    with pytest.raises(Refused, match="at most 24"):
        add(route, "One too many")
    assert route.steps.count() == 24


def test_the_route_shows_each_steps_cautions(owners: Client) -> None:
    said = text(owners.get(reverse("route", args=[make_route().pk])))
    assert "1910.1053" in said
    assert "Wet cement burns" in said
