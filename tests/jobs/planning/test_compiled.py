"""What is compiled is kept for one state of the sources, and made by use."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from jobs.planning import compiled
from jobs.planning.events import carry_out
from jobs.planning.put_off import bring_forward
from jobs.planning.rearrange import rearrange_state
from jobs.planning.warm import compile_others, compile_tries, warm_up
from jobs.planning.way import make_way_in


def test_what_was_compiled_of_other_sources_is_not_read_again(tmp_path: Path) -> None:
    (tmp_path / "lists.py").write_text("ROOM = 1\n")
    (tmp_path / "adapt.py").write_text("from lists import ROOM\n")
    before = compiled.state_of(tmp_path)
    assert compiled.state_of(tmp_path) == before
    (tmp_path / "lists.py").write_text("ROOM = 2\n")  # compiled into the other
    after = compiled.state_of(tmp_path)
    assert after != before
    # A line that moves from the end of one file to the start of the next is a change.
    (tmp_path / "adapt.py").write_text("from lists import ROOM\nROOM = 2\n")
    (tmp_path / "lists.py").write_text("")
    assert compiled.state_of(tmp_path) not in {before, after}


def test_it_is_kept_where_the_environment_says(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("NUMBA_CACHE_DIR", "elsewhere")  # put back afterwards
    monkeypatch.setenv("CUREWRIGHT_COMPILED", str(tmp_path))
    kept = compiled.keep_compiled()
    assert kept.parent == tmp_path
    assert os.environ["NUMBA_CACHE_DIR"] == str(kept)


def test_all_that_is_compiled_can_be() -> None:
    warm_up()


def test_what_is_compiled_apart_is_what_is_used() -> None:
    """Else it would be compiled twice, once for types that nobody asks for."""
    apart = (rearrange_state, bring_forward, carry_out, make_way_in)
    warm_up()
    used = [list(each.signatures) for each in apart]
    compile_tries()
    compile_others()
    assert [list(each.signatures) for each in apart] == used
    assert all(used)
