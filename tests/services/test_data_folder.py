"""Can a data folder be had by one process only, and does it say when its form is behind?"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from batches.services.data_folder import (
    DataFolderTaken,
    is_new_database,
    pending_migrations,
    sole_use,
)


def test_the_second_is_told_who_has_the_folder(tmp_path: Path) -> None:
    with sole_use(folder=tmp_path):
        second = sole_use(folder=tmp_path)
        with pytest.raises(DataFolderTaken, match=f"process {os.getpid()}"), second:
            pass
        assert (tmp_path / "server.pid").read_text() == f"{os.getpid()}\n"
    with sole_use(folder=tmp_path):
        pass
    assert not (tmp_path / "server.pid").exists()


def test_a_number_left_by_a_process_that_was_killed_is_no_hindrance(tmp_path: Path) -> None:
    (tmp_path / "server.pid").write_text("1\n")
    (tmp_path / "server.lock").touch()
    with sole_use(folder=tmp_path):
        assert (tmp_path / "server.pid").read_text() == f"{os.getpid()}\n"


@pytest.mark.django_db
def test_the_tests_own_database_is_up_to_date() -> None:
    assert not is_new_database()
    assert pending_migrations() == []
