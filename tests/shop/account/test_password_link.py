from __future__ import annotations

from io import StringIO
from urllib.parse import urlsplit

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from shop.models import Person


def test_whoever_runs_the_server_lets_an_owner_back_in(client: Client, owner: Person) -> None:
    out = StringIO()
    call_command("password_link", owner.email.upper(), stdout=out)
    link = out.getvalue().split()[-1]
    new = "slurry lantern copper"
    answer = client.post(urlsplit(link).path, {"new": new, "again": new, "language": "en"})
    assert answer.status_code == 302
    owner.refresh_from_db()
    assert owner.check_password(new)


def test_an_unknown_or_removed_person_gets_none(owner: Person) -> None:
    with pytest.raises(CommandError, match="Nobody signs in"):
        call_command("password_link", "nobody@example.com")
    Person.objects.update(is_active=False)
    with pytest.raises(CommandError, match="Bring this person back first"):
        call_command("password_link", owner.email)
