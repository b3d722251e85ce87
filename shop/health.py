"""Is this container's program well? `python -m shop.health [web|beat]` exits 0 when it is."""

from __future__ import annotations

import http.client
import os
import sys
import time
from pathlib import Path

# The clock writes down what it last woke every three minutes.
BEAT_SILENCE_S = 600


def web_answers(port: int, host: str) -> bool:
    """Asked by a name the server answers to: any other gets 400 however well it is."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=4)
    try:
        connection.request("GET", "/health/", headers={"Host": host})
        return connection.getresponse().status == http.HTTPStatus.OK
    except (OSError, http.client.HTTPException):
        return False
    finally:
        connection.close()


def beat_ticks(folder: Path, now: float) -> bool:
    written = [file.stat().st_mtime for file in folder.glob("beat-schedule*")]
    return bool(written) and now - max(written) < BEAT_SILENCE_S


def main(what: str) -> int:
    if what == "beat":
        well = beat_ticks(Path(os.environ["CUREWRIGHT_VAR"]), time.time())
    else:
        first_name = os.environ.get("CUREWRIGHT_HOSTS", "localhost").split(",")[0]
        well = web_answers(8000, first_name.strip().lstrip("*."))
    return 0 if well else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1] if len(sys.argv) > 1 else "web"))
