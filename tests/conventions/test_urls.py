"""Is every page opened in a real browser by some test, or is there a reason why not?"""

from __future__ import annotations

from batches.urls import urlpatterns
from tests.browser.addresses import BEFORE_SIGN_IN, NOT_VISITED, VISITS

NAMES = {pattern.name for pattern in urlpatterns}
VISITED = {visit.url for visit in (*VISITS, *BEFORE_SIGN_IN)}


def test_every_url_is_visited_or_says_why_not() -> None:
    """A new page gets a line in tests/browser/addresses.py."""
    assert NAMES - VISITED - set(NOT_VISITED) == set()


def test_no_line_is_about_a_url_that_is_gone_or_visited() -> None:
    assert set() == VISITED - NAMES
    assert set(NOT_VISITED) - NAMES == set()
    assert VISITED & set(NOT_VISITED) == set()


def test_every_reason_says_something() -> None:
    assert [name for name, why in NOT_VISITED.items() if len(why) < 6] == []
