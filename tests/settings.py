"""The app's settings for one run of the tests, in a folder of its own that goes with the run.

Processes that share a run have a folder, and so a server, each: no test meets another's data.
The address of the PostgreSQL server is set here; the server starts only when a test needs it.
"""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile
from pathlib import Path
from urllib.parse import quote

if "CUREWRIGHT_TEST_RUN" not in os.environ:
    # Not the system's own temporary folder: a socket's path may have some hundred characters.
    os.environ["CUREWRIGHT_TEST_RUN"] = tempfile.mkdtemp(prefix="curewright-", dir="/tmp")
    atexit.register(shutil.rmtree, os.environ["CUREWRIGHT_TEST_RUN"], ignore_errors=True)

HOME = Path(__file__).resolve().parent.parent
TEST_RUN = Path(os.environ["CUREWRIGHT_TEST_RUN"]) / os.environ.get("PYTEST_XDIST_WORKER", "")
TEST_RUN.mkdir(exist_ok=True)
for _folder in (TEST_RUN, Path(os.environ["CUREWRIGHT_TEST_RUN"])):
    _folder.chmod(0o755)  # the database server may run as another user
POSTGRES_DIR = TEST_RUN / "postgres"
TEST_DATABASE = os.environ.get("CUREWRIGHT_TEST_DB", "postgresql")
if TEST_DATABASE not in {"postgresql", "sqlite"}:
    raise RuntimeError(f"CUREWRIGHT_TEST_DB is {TEST_DATABASE!r}: write postgresql or sqlite.")

for _name in [name for name in os.environ if name.startswith("CUREWRIGHT_")]:
    if not _name.startswith("CUREWRIGHT_TEST_"):
        del os.environ[_name]
os.environ.pop("REDIS_URL", None)
os.environ["CUREWRIGHT_DEMO"] = "yes"
os.environ["CUREWRIGHT_VAR"] = str(TEST_RUN / "var")
# Compiled once for all runs and processes: it takes longer than most of the tests together.
os.environ["CUREWRIGHT_COMPILED"] = str(HOME / "var" / "compiled")
os.environ["DATABASE_URL"] = (
    f"postgresql://postgres@{quote(str(POSTGRES_DIR), safe='')}/curewright"
    if TEST_DATABASE == "postgresql"
    else f"sqlite:///{TEST_RUN / 'var' / 'curewright.sqlite3'}"
)
# The browser's driver keeps an event loop running in the thread that also asks the database.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

from shop.settings import *  # noqa: E402, F403
from shop.settings import DATABASES, STATIC_ROOT  # noqa: E402

STATIC_ROOT.mkdir(parents=True, exist_ok=True)
# Django would test SQLite in memory, where writers never meet.
if TEST_DATABASE == "sqlite":
    DATABASES["default"]["TEST"] = {"NAME": str(TEST_RUN / "var" / "test.sqlite3")}
# Each thread of the browser tests' server would keep a connection of its own.
DATABASES["default"]["CONN_MAX_AGE"] = 0
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
# Each test's client has middleware of its own, which would read all static files before the first
# answer: that was a twentieth of the time. So they are looked up when they are asked for.
WHITENOISE_AUTOREFRESH = True
