"""A section as somebody types it, and what a page of it holds."""

from __future__ import annotations

import re
from typing import Any

from django.test import Client

from tests.shop.setup.helpers import Controls

INCH = 0.0254  # m
PAGE = "/pieces/217-A/section/"
COUNTER = {
    "length": "96",
    "width": "25 1/2",
    "edge_front_width": "3/4",
    "edge_front_depth": '1 1/2"',
    "rib_0_count": "2",
    "rib_0_width": "1.5",
    "rib_0_depth": "19 mm",
    "cutout_0_length": "21",
    "cutout_0_width": "1' 4\"",
    "cutout_0_x": "37 1/2",
    "cutout_0_y": "4 3/4",
}
PLAIN = {"length": "96", "width": "25 1/2"}


def words(html: str) -> str:
    return " ".join(re.sub(r"<[^>]*>", " ", html).split())


def controls(client: Client, address: str = PAGE) -> dict[str, Any]:
    """What the page's own form would send."""
    reader = Controls(PAGE)
    answer = client.get(address)
    assert answer.status_code == 200
    reader.feed(answer.content.decode())
    return reader.values


def send(client: Client, typed: dict[str, str], opened: dict[str, Any] | None = None) -> Any:
    return client.post(PAGE, (opened or controls(client)) | typed)
