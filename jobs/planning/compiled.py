"""Where the planner's compiled loops are kept: a folder for each state of its sources.

Numba keeps what it compiled by the file that a function stands in, and does not see that another
file, whose functions were compiled into it, has changed.
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

HERE = Path(__file__).resolve().parent


def keep_compiled(sources: Path = HERE) -> Path:
    """To be called before numba is imported, which reads its folder then."""
    among = os.environ.get("CUREWRIGHT_COMPILED", "").strip()
    kept = (Path(among) if among else HERE.parents[1] / "var" / "compiled") / state_of(sources)
    os.environ["NUMBA_CACHE_DIR"] = str(kept)
    return kept


def state_of(sources: Path) -> str:
    digest = hashlib.sha256()
    for path in sorted(sources.glob("*.py")):
        text = path.read_bytes()
        digest.update(f"{path.name} {len(text)} ".encode())
        digest.update(text)
    return digest.hexdigest()[:16]
