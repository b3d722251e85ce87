"""Logs are read by more people than a customer's page is meant for: no link that opens anything."""

from __future__ import annotations

import contextlib
import logging
import re

# A customer's page, and an invitation: whoever has the address is let in.
OPENS = re.compile(r"/(p|join)/[^/\s\"'?]+")


def masked(text: str) -> str:
    return OPENS.sub(r"/\1/***", text)


class WithoutTokens(logging.Filter):
    def filter(self, record: logging.LogRecord) -> bool:
        # What cannot be put together fails where it is written, as it would without this.
        with contextlib.suppress(TypeError, ValueError, KeyError):
            said = record.getMessage()
            if (plain := masked(said)) != said:
                record.msg, record.args = plain, ()
        return True
