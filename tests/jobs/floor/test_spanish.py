from __future__ import annotations

import string

import pytest
from django.utils import translation

from curing.timeline import CRITERIA
from jobs.floor import wording
from jobs.models import Mark
from shop import defaults
from shop.models import Role, StepKind
from tests.factories import make_mark, make_person
from tests.jobs.floor.conftest import SWAP
from tests.jobs.floor.spanish import Untranslated, compiled, crew_texts, entries


@pytest.fixture
def marisol():
    return make_person(Role.CREW, name="Marisol Quint", language="es")


def test_no_text_of_the_crews_screens_lacks_spanish():
    catalogue, missing = compiled(), Untranslated()
    catalogue.add_fallback(missing)
    plural = {msgid for msgid, plural, *_ in entries() if plural}
    for text in crew_texts():
        if text in plural:
            catalogue.ngettext(text, text, 2)
        else:
            catalogue.gettext(text)
    assert sorted(missing.asked) == []


def test_what_is_compiled_is_what_is_written():
    catalogue = compiled()
    for msgid, plural, strings, _fuzzy in entries():
        found = (
            [catalogue.ngettext(msgid, plural, n) for n in (1, 2)]
            if plural
            else [catalogue.gettext(msgid)]
        )
        assert found == strings


def test_no_spanish_is_empty_or_only_guessed():
    assert [
        msgid for msgid, _plural, strings, fuzzy in entries() if fuzzy or not all(strings)
    ] == []


def test_every_blank_of_a_text_is_filled_in_spanish_too():
    for msgid, plural, strings, _fuzzy in entries():
        wanted = _blanks(plural or msgid)
        for text in strings:
            assert _blanks(text) <= wanted | _blanks(msgid), msgid
        assert _blanks(strings[-1]) == wanted, msgid


def _blanks(text: str) -> set[str]:
    return {part.partition(")")[0] for part in text.split("%(")[1:]}


def test_the_head_of_the_file_asks_for_a_native_reader():
    from tests.jobs.floor.spanish import CATALOGUE

    assert "checked by a native member of the crew" in CATALOGUE.read_text("utf-8")[:300]


def test_every_criterion_and_usual_step_name_has_words():
    assert set(CRITERIA) <= set(wording.CRITERION_WORDS)
    names = {step["name"] for route in defaults.ROUTES.values() for step in route}
    with translation.override("es"):
        for name in names | {str(label) for label in StepKind.labels}:
            assert wording.translated(name) != name
        assert wording.translated("seal coat 2") == "mano de sellador 2"
        assert wording.translated("Wash the dog") == "Wash the dog"


def test_the_concrete_is_concreto():
    spanish = " ".join(" ".join(strings) for _i, _p, strings, _f in entries()).lower()
    assert "hormigón" not in spanish
    assert "segur" not in spanish.replace("hoja de seguridad", "").replace("de seguridad", "")


def test_a_spanish_speaker_reads_the_floor_in_spanish(hand, marisol, cured):
    text = hand(marisol).floor().content.decode()
    for words in ("Ahora", "desmoldar y voltear", "Marcar desmoldada", '<html lang="es"'):
        assert words in text
    assert "Mark demolded" not in text


def test_a_refusal_is_in_spanish(hand, marisol, green):
    text = hand(marisol).mark(green, "demold", headers=SWAP).content.decode()
    assert "No antes de" in text
    text = hand(marisol).mark(green, "grind", headers=SWAP).content.decode()
    assert "todavía no está marcado" in text


def test_the_record_is_in_the_readers_language(hand, marisol, crew, cured):
    make_mark(cured, "", kind=Mark.Kind.HOLD, reason="Chip", by=crew)
    assert "detenida, Ben Carrow: Chip" in hand(marisol).page(cured).content.decode()


def test_letters_beyond_ascii_are_really_there():
    spanish = "".join("".join(strings) for _i, _p, strings, _f in entries())
    assert set("áéíóúñ¿") <= set(spanish)
    assert set(string.ascii_lowercase) - {"k", "w", "x"} <= set(spanish.lower())
