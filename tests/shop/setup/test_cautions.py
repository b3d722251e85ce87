from __future__ import annotations

import pytest

from shop import cautions
from shop.models import StepKind

DEFERS = ("local", "data sheet", "licensed", "come first", "govern")


@pytest.mark.parametrize("kind", [kind for kind in StepKind.values if kind != StepKind.OTHER])
def test_every_kind_of_step_has_its_cautions_with_references(kind: str) -> None:
    shown = cautions.for_step(kind)
    assert shown
    assert all(str(caution.reference) for caution in shown)


@pytest.mark.parametrize("kind", StepKind.values)
def test_cautions_defer_and_never_call_anything_safe(kind: str) -> None:
    for caution in cautions.for_step(kind, isocyanates=True):
        words = str(caution.text).lower()
        assert any(word in words for word in DEFERS)
        assert " safe " not in words.replace("safety", "")


def test_isocyanates_are_named_first_at_a_coat_of_two_part_urethane_and_nowhere_else() -> None:
    assert "isocyanates" in str(cautions.for_step("coat", isocyanates=True)[0].text)
    assert all("isocyanates" not in str(c.text) for c in cautions.for_step("coat"))
    assert all(
        "isocyanates" not in str(c.text) for c in cautions.for_step("cast", isocyanates=True)
    )


def test_silica_is_by_the_shops_rule_inside_and_the_sites_rule_outside() -> None:
    assert any("1910.1053" in str(c.reference) for c in cautions.for_step("grind"))
    assert any("1926.1153" in str(c.reference) for c in cautions.for_step("install"))


def test_an_unknown_kind_has_none() -> None:
    assert cautions.for_step("polishing the moon") == []
