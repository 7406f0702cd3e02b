"""Does the script of every page keep its promises in a real browser?

The pages here stand on the real base page, style sheet and scripts, under the real policy; their
server is made of routes in the test, so that answers can fail at will. Nothing leaves the browser.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs

import pytest
from django.conf import settings
from django.contrib.staticfiles import finders
from django.template import engines

from batches.services.joined_files import JOINED, joined_text

HOME = "http://frond.test"
COOKIE = "frondbook_csrftoken"
FRESH, STALE = "f" * 32, "s" * 32
KINDS = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}
# csp.constants are plain strings with their quotes
POLICY = "; ".join(
    f"{name} {' '.join(values)}"
    for name, values in settings.CONTENT_SECURITY_POLICY["DIRECTIVES"].items()
)
NAV = [
    {"href": "/", "word": "Today", "current": True},
    {"href": "/sow/", "word": "Sow", "current": False},
    {"href": "/records/", "word": "Records", "current": False, "apart": True},
]
CONTENT = """
<form id="note" method="post" action="/kept/" hx-post="/kept/" hx-target="#answer">
  <input type="hidden" name="csrfmiddlewaretoken" value="ssssssssssssssssssssssssssssssss">
  <label for="words">Note</label><textarea id="words" name="words"></textarea>
  <button class="button" id="send">Send</button>
</form>
<form id="plain" method="post" action="/plain/">
  <input type="hidden" name="csrfmiddlewaretoken" value="ssssssssssssssssssssssssssssssss">
  <button class="button" id="send-plain">Send it plainly</button>
</form>
<div id="answer">nothing yet</div>
<div id="tray">
  <button class="button" hx-post="/looked/1/" hx-target="#tray">Looked, nothing new</button>
</div>
<button class="button" id="plus" data-repeat hx-post="/plus/" hx-swap="none">+1</button>
"""


class Nursery:
    """Answers for the test, and what it was sent."""

    def __init__(self) -> None:
        self.sent: list[Any] = []
        self.answers: dict[str, Any] = {}

    def paths(self) -> list[str]:
        return [request.url.removeprefix(HOME) for request in self.sent]

    def page(self, content: str, body_class: str = "") -> str:
        text = (
            '{% extends "_base.html" %}{% block title %}Try{% endblock %}'
            "{% block h1 %}Try{% endblock %}{% block body_class %}" + body_class + "{% endblock %}"
            "{% block content %}" + content + "{% endblock %}"
        )
        context = {"nav": NAV, "csrf_cookie_name": COOKIE}
        return str(engines["django"].from_string(text).render(context))

    def handle(self, route: Any) -> None:
        request = route.request
        path = request.url.removeprefix(HOME).split("?")[0]
        if path.startswith(settings.STATIC_URL):
            name = path.removeprefix(settings.STATIC_URL)
            kind = KINDS.get(Path(name).suffix, "font/ttf")
            if name in JOINED:
                route.fulfill(body=joined_text(name), content_type=kind)
                return
            found = finders.find(name)
            assert found, path
            route.fulfill(path=found, content_type=kind)
            return
        if request.method == "POST":
            self.sent.append(request)
        answer = self.answers.get(path, {"body": "an answer"})
        if answer == "gone":
            route.abort()
            return
        headers = {"Content-Security-Policy": POLICY, **answer.pop("headers", {})}
        route.fulfill(**{"content_type": "text/html", "headers": headers, **answer})


@pytest.fixture
def server() -> Nursery:
    return Nursery()


@pytest.fixture
def page(chromium: Any, server: Nursery) -> Iterator[Any]:
    """A page of `HOME`; script errors and breaches of the policy fail the test."""
    context = chromium.new_context(viewport={"width": 1280, "height": 800})
    context.add_cookies([{"name": COOKIE, "value": FRESH, "url": HOME}])
    page = context.new_page()
    page.set_default_timeout(5000)
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on(
        "console",
        lambda said: (
            complaints.append(said.text) if "Content Security Policy" in said.text else None
        ),
    )
    context.route("**/*", server.handle)
    server.answers["/"] = {"body": server.page(CONTENT)}
    page.goto(HOME + "/")
    yield page
    context.close()
    assert complaints == []


def test_the_token_is_read_from_the_cookie_when_htmx_sends(page: Any, server: Nursery) -> None:
    page.context.add_cookies([{"name": "other_csrf", "value": "o" * 32, "url": HOME}])
    page.fill("#words", "two fronds")
    page.click("#send")
    page.wait_for_function("document.querySelector('#answer').textContent === 'an answer'")
    (request,) = server.sent
    assert request.headers["x-csrftoken"] == FRESH
    body = parse_qs(request.post_data)
    assert body == {"words": ["two fronds"]}


def test_the_token_is_read_from_the_cookie_when_a_form_is_sent(page: Any, server: Nursery) -> None:
    page.click("#send-plain")
    page.wait_for_url("**/plain/")
    (request,) = server.sent
    assert parse_qs(request.post_data)["csrfmiddlewaretoken"] == [FRESH]


def test_without_a_cookie_the_form_keeps_its_own_token(page: Any, server: Nursery) -> None:
    page.context.clear_cookies()
    page.click("#send-plain")
    page.wait_for_url("**/plain/")
    assert parse_qs(server.sent[0].post_data)["csrfmiddlewaretoken"] == [STALE]


def test_a_second_tap_within_400_ms_counts_once_even_on_the_next_tray(
    page: Any, server: Nursery
) -> None:
    """The answer may be there before the glass settles: the next tray's button is a new element."""
    server.answers["/looked/1/"] = {"status": 204, "body": ""}
    page.evaluate(
        """() => {
          const first = document.querySelector("#tray button");
          const next = first.cloneNode(true);
          next.setAttribute("hx-post", "/looked/2/");
          first.click();
          first.replaceWith(next);
          htmx.process(next);
          next.click();
        }"""
    )
    page.wait_for_timeout(500)
    assert server.paths() == ["/looked/1/"]
    with page.expect_response("**/looked/2/"):
        page.click("#tray button")
    assert server.paths() == ["/looked/1/", "/looked/2/"]


def test_a_second_tap_on_the_same_button_counts_once_and_a_later_one_again(
    page: Any, server: Nursery
) -> None:
    page.evaluate("for (let n = 0; n < 3; n++) document.querySelector('#send').click()")
    page.wait_for_timeout(600)
    assert len(server.sent) == 1
    page.click("#send")
    page.wait_for_timeout(100)
    assert len(server.sent) == 2


def test_a_stepper_may_be_tapped_quickly(page: Any, server: Nursery) -> None:
    for _ in range(3):
        with page.expect_response("**/plus/"):
            page.click("#plus")
    assert server.paths() == ["/plus/"] * 3


@pytest.mark.parametrize(
    ("answer", "says"),
    [
        ("gone", "did not answer"),
        ({"status": 500, "body": "<h1>Fault</h1>"}, "could not do this (answer 500)"),
        ({"status": 403, "body": "no"}, "signed out"),
        ({"status": 413, "body": "no"}, "too large"),
        ({"status": 503, "body": "no"}, "busy"),
        (
            {
                "status": 409,
                "body": "Tray 3 was cleared at 09:12. Nothing was stored.",
                "content_type": "text/plain",
            },
            "Tray 3 was cleared at 09:12. Nothing was stored.",
        ),
    ],
)
def test_a_send_that_failed_says_so_and_keeps_the_form(
    page: Any, server: Nursery, answer: Any, says: str
) -> None:
    server.answers["/kept/"] = answer
    banner = page.locator("#send-failed")
    assert banner.is_hidden()
    page.fill("#words", "mould at one corner")
    page.click("#send")
    banner.wait_for(state="visible")
    assert says in banner.inner_text()
    assert banner.get_attribute("role") == "alert"
    assert page.input_value("#words") == "mould at one corner"
    assert page.inner_text("#answer") == "nothing yet"
    server.answers["/kept/"] = {"body": "stored"}
    page.wait_for_timeout(450)
    page.click("#send")
    page.wait_for_function("document.querySelector('#answer').textContent === 'stored'")
    assert banner.is_hidden()


def test_only_a_form_with_an_id_of_its_own_is_said_to_be_stored_once(
    page: Any, server: Nursery
) -> None:
    server.answers["/kept/"] = "gone"
    page.click("#send")
    page.locator("#send-failed").wait_for(state="visible")
    assert "Look in another tab" in page.inner_text("#send-failed")
    page.evaluate(
        """() => {
          const id = document.createElement("input");
          Object.assign(id, { type: "hidden", name: "record_id", value: "0190" });
          document.querySelector("#note").append(id);
        }"""
    )
    page.wait_for_timeout(450)
    page.click("#send")
    page.get_by_text("nothing is stored twice").wait_for()


def test_the_banner_can_be_closed(page: Any, server: Nursery) -> None:
    server.answers["/kept/"] = "gone"
    page.click("#send")
    page.click("#send-failed button")
    assert page.locator("#send-failed").is_hidden()


def test_a_refused_form_comes_back_with_its_errors(page: Any, server: Nursery) -> None:
    server.answers["/kept/"] = {"status": 422, "body": "<p>No date.</p>"}
    page.click("#send")
    page.wait_for_function("document.querySelector('#answer').textContent === 'No date.'")
    assert page.locator("#send-failed").is_hidden()


def test_slash_goes_to_the_search_box_but_not_out_of_a_note(page: Any) -> None:
    page.focus("#words")
    page.keyboard.type("1/2")
    assert page.input_value("#words") == "1/2"
    page.focus("#main")
    page.keyboard.press("/")
    page.keyboard.type("3-26W14")
    assert page.input_value("#find-text") == "3-26W14"


def test_the_slash_key_can_be_switched_off_and_stays_off(page: Any) -> None:
    """A key without a modifier must have a switch. Source: WCAG 2.2, 2.1.4."""
    switch = page.locator("#slash-key")
    assert switch.get_attribute("aria-pressed") == "true"
    switch.click()
    page.reload()
    assert switch.get_attribute("aria-pressed") == "false"
    page.focus("#main")
    page.keyboard.press("/")
    assert page.evaluate("document.activeElement.id") == "main"


def test_the_search_box_asks_the_server(page: Any, server: Nursery) -> None:
    page.fill("#find-text", "osm reg")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert page.url == HOME + "/search/?q=osm+reg"


@pytest.mark.parametrize("width", [360, 640])
def test_a_phone_reaches_every_page_by_keyboard(page: Any, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 700})
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    links = page.locator("#nav a")
    assert not any(link.is_visible() for link in links.all())
    page.get_by_role("button", name="Menu").focus()
    page.keyboard.press("Enter")
    assert [link.inner_text() for link in links.all() if link.is_visible()] == [
        "Today",
        "Sow",
        "Records",
    ]
    page.keyboard.press("Escape")
    assert not any(link.is_visible() for link in links.all())


def test_a_wide_page_keeps_the_second_group_behind_more(page: Any) -> None:
    assert page.get_by_role("link", name="Sow").is_visible()
    assert page.locator("#nav-more").is_hidden()
    page.get_by_role("button", name="More").click()
    assert page.get_by_role("link", name="Records").is_visible()


def test_the_first_stop_of_the_keyboard_skips_to_the_page(page: Any) -> None:
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip-link"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"


def test_a_cold_page_asks_for_few_things(page: Any) -> None:
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url.rsplit("/", 1)[1]))
    page.goto(HOME + "/?cold")
    page.wait_for_load_state("networkidle")
    without_fonts = [name for name in asked if not name.endswith(".woff2")]
    assert len(without_fonts) <= 6, without_fonts
