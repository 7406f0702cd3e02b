"""Does a person who meets an error learn what happened, what was kept and what to do?"""

from __future__ import annotations

import pytest
from django.http import HttpRequest, HttpResponse
from django.test import Client, RequestFactory
from django.urls import get_resolver

from batches.views import errors


def test_an_unknown_address_is_answered_in_words(hand: Client) -> None:
    answer = hand.get("/no-such-page/")
    assert answer.status_code == 404
    assert "There is nothing at this address" in answer.content.decode()


def test_a_fault_of_the_program_shows_no_detail_and_a_number_for_the_log(
    hand: Client, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    (pattern,) = [
        inner
        for outer in get_resolver().url_patterns
        for inner in getattr(outer, "url_patterns", [])
        if inner.name == "words"
    ]

    def fail(request: HttpRequest) -> HttpResponse:
        raise RuntimeError("the secret name of a tray")

    fail.__dict__.update(pattern.callback.__dict__)
    monkeypatch.setattr(pattern, "callback", fail)
    hand.raise_request_exception = False
    answer = hand.get("/words/")
    assert answer.status_code == 500
    text = answer.content.decode()
    assert "the secret name" not in text
    assert "Traceback" not in text
    number = text.split("<strong>")[1].split("</strong>")[0]
    assert number in caplog.text


def test_an_unreadable_request_is_answered_in_words() -> None:
    answer = errors.bad_request(RequestFactory().get("/"), ValueError("x"))
    assert answer.status_code == 400
    assert "Nothing was stored" in answer.content.decode()
