"""A disk that is really full, and a clock that jumps."""

from pathlib import Path

import pytest

from tests.load.faults import full_disk, jumping_clock, small_disk


def test_a_full_disk_costs_long_bodies_a_503_and_nothing_else(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    try:
        with small_disk(disk, 3):
            seen = full_disk(disk)
    except OSError as error:
        pytest.skip(f"no disk can be mounted here: {error}")
    assert seen.pop("long") == 503
    assert set(seen.values()) == {200}


def test_a_clock_that_jumps_a_day_either_way_changes_no_answer(tmp_path: Path) -> None:
    assert jumping_clock(tmp_path) == {"statuses": [200], "same_workers": True}
