"""How often is a fault made on purpose, and what came of it?

A few times in every run, and many times by `python -m pytest tests/faults --long`, which then says
what it counted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest

Times = Callable[[int, int], int]
Turns = Callable[[int, int], Iterator[int]]
Tell = Callable[[str], None]
TOLD = pytest.StashKey[list[str]]()


def pytest_addoption(parser: pytest.Parser) -> None:
    """Know the option for the long counts, and how long tablets rest between two looks."""
    parser.addoption("--long", action="store_true", help="make each fault as often as by hand")
    parser.addoption(
        "--pause", type=float, default=0.05,
        help="seconds between two looks of each of many tablets (2: a quick walk)",
    )  # fmt: skip


def pytest_configure(config: pytest.Config) -> None:
    """Begin with nothing told."""
    config.stash[TOLD] = []


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Say what the long counts came to."""
    config = terminalreporter.config
    if config.getoption("--long", default=False):
        for line in config.stash[TOLD]:
            terminalreporter.write_line(line)


@pytest.fixture(scope="session")
def times(request: pytest.FixtureRequest) -> Times:
    """Gives the first count in every run, and the second one with `--long`."""
    long = bool(request.config.getoption("--long", default=False))
    return lambda few, many: many if long else few


@pytest.fixture
def turns(request: pytest.FixtureRequest, times: Times) -> Turns:
    """Gives the numbers of turns from 0; with `--long` a line says how far they are."""
    manager = request.config.pluginmanager
    capture, terminal = manager.getplugin("capturemanager"), manager.getplugin("terminalreporter")

    def numbers(few: int, many: int) -> Iterator[int]:
        count, long = times(few, many), times(0, 1)
        for number in range(count):
            if long and number % max(1, count // 10) == 0:
                with capture.global_and_fixture_disabled():
                    terminal.write_line(f"{request.node.name}: {number} of {count}")
            yield number

    return numbers


@pytest.fixture
def tell(request: pytest.FixtureRequest) -> Tell:
    """Keeps a line for the end of a long run."""
    told = request.config.stash.setdefault(TOLD, [])
    return lambda words: told.append(f"{request.node.name}: {words}")
