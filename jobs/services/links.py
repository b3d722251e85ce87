"""The customer's link: its token comes from a nonce and the server's key, so neither a copy of the
database nor a look at the code opens a page; the token's hash is what finds the job."""

from __future__ import annotations

import base64
import hashlib
import re
import secrets

from django.conf import settings
from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.crypto import salted_hmac

from jobs.models import CustomerLink, Job
from jobs.services.errors import Refused
from shop.models import Person

SALT = "jobs.services.links"
TOKEN = re.compile(r"[A-Za-z0-9_-]{43}", re.ASCII)  # 256 bits


def make_link(*, job_id: int, by: Person | None) -> CustomerLink:
    """The open link of this job, made if it has none."""
    with transaction.atomic():
        job = _locked(job_id)
        link = CustomerLink.objects.filter(job=job, revoked_at=None).first()
        if link and opens(link):
            return link
        if link:  # made under another server key: nobody here can say its token any more
            _revoke(job)
        return _new(job, by)


def renew_link(*, job_id: int, by: Person) -> CustomerLink:
    """A new link; what was sent before opens nothing from now on."""
    with transaction.atomic():
        job = _locked(job_id)
        _revoke(job)
        return _new(job, by)


def revoke_link(*, job_id: int) -> None:
    with transaction.atomic():
        if not _revoke(_locked(job_id)):
            raise Refused("This job has no open link; somebody else may have closed it.")


def _locked(job_id: int) -> Job:
    job = Job.objects.select_for_update().filter(pk=job_id).first()
    if job is None:
        raise Refused("This job was removed meanwhile.")
    return job


def _revoke(job: Job) -> int:
    return job.links.filter(revoked_at=None).update(revoked_at=timezone.now())


def _new(job: Job, by: Person | None) -> CustomerLink:
    nonce = secrets.token_hex(32)
    return CustomerLink.objects.create(
        job=job, nonce=nonce, token_hash=_hash(_token(nonce)), made_by=by
    )


def _token(nonce: str) -> str:
    digest = salted_hmac(SALT, nonce, algorithm="sha256").digest()
    return base64.urlsafe_b64encode(digest).decode().rstrip("=")


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def token_of(link: CustomerLink) -> str:
    return _token(link.nonce)


def opens(link: CustomerLink) -> bool:
    """Not revoked, and made under the server's present key."""
    return link.revoked_at is None and _hash(token_of(link)) == link.token_hash


def page_address(link: CustomerLink) -> str:
    return settings.SITE_URL.rstrip("/") + reverse("customer-page", args=[token_of(link)])


def open_address(job: Job) -> str:
    """The address of the job's page, or empty if no link is open."""
    link = job.links.filter(revoked_at=None).first()
    return page_address(link) if link and opens(link) else ""


def job_of(token: str) -> Job | None:
    if not TOKEN.fullmatch(token):
        return None
    link = (
        CustomerLink.objects.filter(token_hash=_hash(token), revoked_at=None)
        .select_related("job__customer")
        .first()
    )
    return link.job if link else None
