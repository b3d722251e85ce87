"""How a route says that its pieces are dry."""

from __future__ import annotations

import html

import pytest
from django.urls import reverse

from curing.moisture import ESTIMATE
from shop.models import Change, Mix, Route
from shop.services import routes
from tests.factories import make_mix, make_route


def route_form(route, **changed):
    shown = {
        "name": route.name,
        "drying_rule": route.drying_rule,
        "moisture_target": "85",
        "weigh_percent": "0.15",
        "notes": route.notes,
        "in_use": "on",
        "version": route.version,
    }
    return shown | changed


def test_a_route_says_how_its_pieces_are_known_to_be_dry(owners):
    route = make_route()
    address = reverse("route", args=[route.pk])
    sent = route_form(route, drying_rule="model", moisture_target="75", weigh_percent="0,1")
    assert owners.post(address, sent).status_code == 302
    route.refresh_from_db()
    assert (route.drying_rule, route.moisture_target) == ("model", 0.75)
    assert route.weigh_percent == 0.1
    assert Change.objects.exists()


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"moisture_target": "40"}, "Between 50 and 97 %"),
        ({"moisture_target": "99"}, "Between 50 and 97 %"),
        ({"weigh_percent": "5"}, "At most 2"),
        ({"weigh_percent": "0"}, "At least 0.01"),
        ({"drying_rule": "guess"}, "Choose another"),
    ],
)
def test_a_figure_that_no_rule_can_use_is_refused_and_stays(owners, changed, said):
    route = make_route()
    answer = owners.post(reverse("route", args=[route.pk]), route_form(route, **changed))
    assert answer.status_code == 422
    text = answer.content.decode()
    assert said in text
    name, typed = next(iter(changed.items()))
    if name != "drying_rule":
        assert f'value="{typed}"' in text
    route.refresh_from_db()
    assert (route.moisture_target, route.weigh_percent, route.version) == (0.85, 0.15, 1)


def test_the_model_is_called_an_estimate_until_every_mix_is_calibrated(owners):
    mix, route = make_mix(), make_route()
    page = owners.get(reverse("route", args=[route.pk])).content.decode()
    assert ESTIMATE in html.unescape(page)
    assert f"So far for: {mix.name}." in page
    Mix.objects.update(drying_calibrated=True)
    page = owners.get(reverse("route", args=[route.pk])).content.decode()
    assert ESTIMATE not in html.unescape(page)


@pytest.mark.parametrize(
    ("rule", "said", "waits"),
    [
        ("hours", "half while it is under 60 °F", "2 d of drying"),
        ("model", "marks the step that waits for it", "drying to 85 % humidity inside, by the mo"),
        ("weighing", "until the scale has spoken", "weighing until it is dry, 2 d expected"),
    ],
)
def test_the_hours_of_a_step_say_what_they_mean_under_the_rule(owners, rule, said, waits):
    route = make_route()
    Route.objects.update(drying_rule=rule)
    step = route.steps.get(key="seal")
    assert said in owners.get(reverse("step", args=[route.pk, step.pk])).content.decode()
    page = owners.get(reverse("route", args=[route.pk])).content.decode()
    assert waits in page


def test_a_copy_dries_as_the_first_does(owners):
    first = make_route()
    Route.objects.update(drying_rule="weighing", weigh_percent=0.1, moisture_target=0.75)
    first.refresh_from_db()
    copy = routes.add_route(values={"name": "Copy"}, like=first)
    assert (copy.drying_rule, copy.weigh_percent, copy.moisture_target) == ("weighing", 0.1, 0.75)
