from __future__ import annotations

import base64
from typing import Any

import pytest
from django.db import IntegrityError

from jobs.models import CustomerLink, Job
from jobs.services.errors import Refused
from jobs.services.links import job_of, make_link, opens, renew_link, revoke_link, token_of
from shop.models import Person
from tests.factories import make_job, make_person, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner() -> Person:
    make_shop()
    return make_person()


@pytest.fixture
def job() -> Job:
    return make_job("217")


def test_the_token_opens_its_own_job_only(job: Job, owner: Person) -> None:
    other = make_job("218")
    token = token_of(make_link(job_id=job.pk, by=owner))
    assert job_of(token) == job
    assert job_of(token_of(make_link(job_id=other.pk, by=owner))) == other


def test_the_token_has_256_bits_and_is_not_in_the_database(job: Job, owner: Person) -> None:
    link = make_link(job_id=job.pk, by=owner)
    token = token_of(link)
    assert len(base64.urlsafe_b64decode(token + "=")) == 32
    row = CustomerLink.objects.filter(pk=link.pk).values().get()
    assert token not in map(str, row.values())


def test_without_the_servers_key_a_copy_of_the_database_opens_nothing(
    job: Job, owner: Person, settings: Any
) -> None:
    link = make_link(job_id=job.pk, by=owner)
    settings.SECRET_KEY = "another-key-that-a-thief-would-guess"
    assert job_of(token_of(link)) is None
    assert not opens(link)


def test_after_a_change_of_key_the_sent_link_still_opens_and_a_new_one_is_made(
    job: Job, owner: Person, settings: Any
) -> None:
    sent = token_of(make_link(job_id=job.pk, by=owner))
    settings.SECRET_KEY = "the-new-key-of-the-same-server-0001"
    assert job_of(sent) == job
    made = make_link(job_id=job.pk, by=owner)
    assert opens(made)
    assert job_of(sent) is None


def test_asking_twice_gives_the_same_link(job: Job, owner: Person) -> None:
    assert make_link(job_id=job.pk, by=owner) == make_link(job_id=job.pk, by=None)


def test_a_closed_link_opens_nothing_and_a_renewed_one_replaces_it(job: Job, owner: Person) -> None:
    first = token_of(make_link(job_id=job.pk, by=owner))
    second = token_of(renew_link(job_id=job.pk, by=owner))
    assert job_of(first) is None
    assert job_of(second) == job
    revoke_link(job_id=job.pk)
    assert job_of(second) is None
    with pytest.raises(Refused):
        revoke_link(job_id=job.pk)


def test_the_database_itself_keeps_one_open_link_a_job(job: Job, owner: Person) -> None:
    make_link(job_id=job.pk, by=owner)
    with pytest.raises(IntegrityError):
        CustomerLink.objects.create(job=job, nonce="n", token_hash="h")


@pytest.mark.parametrize(
    "token", ["", "x", "x" * 43, "x" * 10000, "\x00" * 43, "é" * 43, "٣" * 43, "a" * 42 + "\n"]
)
def test_what_is_no_token_opens_nothing(token: str) -> None:
    assert job_of(token) is None
