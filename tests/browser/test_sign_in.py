"""Does somebody with a link get in, in a real browser?"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from tests.running_nursery import RunningNursery


def test_a_link_opens_with_one_button_and_signs_in(
    signed_in: Callable[[str], Any], nursery: RunningNursery
) -> None:
    page = signed_in("manager")
    page.goto("/my-password/")
    assert page.get_by_role("heading", level=1).inner_text() == "Your password"
    page.get_by_label("Choose a password").fill("four ferns in a frame")
    page.get_by_role("button", name="Keep this password").click()
    page.goto("/my-password/")
    page.get_by_role("button", name="Sign out").click()
    page.get_by_label("Your name").fill("Greta Lunn")
    page.get_by_label("Your password").fill("four ferns in a frame")
    page.get_by_role("button", name="Sign in", exact=True).last.click()
    page.wait_for_url(re.compile(r".*/$"))
    page.goto("/my-password/")
    assert page.get_by_label("Your password so far").is_visible()


def test_a_stranger_is_asked_to_sign_in(browser_page: Any) -> None:
    browser_page.goto("/my-password/")
    assert browser_page.url.endswith("/sign-in/?next=%2Fmy-password%2F")


def test_the_page_uses_its_own_typeface(browser_page: Any) -> None:
    browser_page.goto("/sign-in/")
    faces = "document.fonts.ready.then(f => [...f].filter(one => one.status == 'loaded').length)"
    assert browser_page.evaluate(faces) >= 1
