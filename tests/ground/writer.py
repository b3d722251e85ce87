"""One of several processes that write to one SQLite file at once. Run by the tests."""

from __future__ import annotations

import sys
from concurrent.futures import ThreadPoolExecutor

import django

django.setup()

from django.db import connection, transaction  # noqa: E402

from shop.models import Shop  # noqa: E402


def count_up(times: int) -> None:
    for _ in range(times):
        with transaction.atomic():
            shop = Shop.objects.get(pk=1)  # reads first: a deferred transaction would fail here
            shop.edition += 1
            shop.save(update_fields=["edition"])
    connection.close()


if __name__ == "__main__":
    sys.stdin.readline()  # all begin together
    with ThreadPoolExecutor(max_workers=4) as threads:
        list(threads.map(count_up, [int(sys.argv[1])] * 4))
