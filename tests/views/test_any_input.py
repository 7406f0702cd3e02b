"""Does any form, any address and any JSON get an answer in words, whatever is typed?

Every page is opened and every form it shows is sent, filled with what people and attackers send;
nothing may end in a fault of the program (500), and no markup that was typed may come back as such.
"""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.factories import (
    NOW,
    BatchFactory,
    BenchFactory,
    HouseFactory,
    OrderFactory,
    SporeLotFactory,
    TrayCheckFactory,
    TrayFactory,
)
from tests.views.test_access import NAMED, RULES, path_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]

MARKUP = "<script>alert(1)</script>"
HOSTILE = (
    MARKUP, "\"><img src=x onerror=alert(1)>", "{{ 7|add:7 }}{% load static %}", "={1+1}",
    "\x00", "x\x00y", "‮evil", "🌿" * 200, "x" * 11_000, "-1", "0", "1e999", "NaN", "99999999999",
    "2026-02-30", "0001-01-01", "9999-12-31", "2026-06-10", "../../etc/passwd", "%s%n", "' OR 1=1",
    "", "   ", "yes", "T0001", "\ud7ff\ue000",
)  # fmt: skip
#: signing out would end the walk, and labels are drawn for long: these have tests of their own
LEFT_OUT = {"batches:sign-out", "batches:labels"}
#: a GET changes nothing (ASVS 5.0, 3.5.3); that somebody took all records out is noted
WRITES = re.compile(r'\s*(?:INSERT\s+INTO|UPDATE|DELETE\s+FROM)\s+"?(\w+)"?', re.IGNORECASE)
MAY_BE_WRITTEN = {"batches_changenote"}
VALUES = st.one_of(st.sampled_from(HOSTILE), st.text(max_size=60), st.integers().map(str))
NO_CHECKS = [HealthCheck.function_scoped_fixture, HealthCheck.too_slow]


@pytest.fixture
def patient(manager: Client) -> Client:
    """The manager in a nursery with something of everything; faults are answered, not raised."""
    tray = TrayFactory(counted=60, code="T0001")
    TrayCheckFactory(tray=tray, note=MARKUP)
    for made in (BatchFactory, BenchFactory, HouseFactory, OrderFactory, SporeLotFactory):
        made()
    manager.raise_request_exception = False
    return manager


def real_paths(name: str) -> list[str]:
    """Give an address with stand-ins, and where it takes a code, with one that is there."""
    path = path_of(name)
    return [path, path.replace("26W14-073-05-P", "T0001")] if "26W14" in path else [path]


def fields_of(page: str) -> set[str]:
    return set(re.findall(r'name="([\w\-]+)"', page)) - {"csrfmiddlewaretoken"}


def judge(answer: Any, sent: object) -> None:
    assert answer.status_code < 500, (answer.status_code, sent)
    if answer.streaming:
        # Read to its end: closed before it, the test's own connection would be closed as well.
        assert all(isinstance(piece, bytes) for piece in answer.streaming_content)
        return
    if "text/html" in answer.headers.get("Content-Type", ""):
        assert MARKUP.encode() not in answer.content, sent


@contextmanager
def only_read(sent: object) -> Iterator[None]:
    """Let what is asked for be read, and fail where the database is written to."""

    def refuse(execute: Any, sql: str, *more: Any) -> Any:
        table = WRITES.match(sql)
        assert table is None or table[1] in MAY_BE_WRITTEN, (sent, sql)
        return execute(sql, *more)

    with connection.execute_wrapper(refuse):
        yield


@pytest.mark.parametrize("name", sorted(set(RULES) - LEFT_OUT))
@settings(max_examples=1, suppress_health_check=NO_CHECKS)
@given(data=st.data())
def test_every_address_answers_whatever_is_asked_and_sent(
    name: str, patient: Client, data: st.DataObject
) -> None:
    for path in real_paths(name):
        with only_read(path):
            page = patient.get(path)
            judge(page, path)
        shown = "" if page.streaming else page.content.decode("utf-8", "replace")
        names = sorted(fields_of(shown) | {"deed", "how"})[:40]
        query = data.draw(st.dictionaries(st.sampled_from([*names, "q", "page", "on"]), VALUES,
                                          max_size=4))  # fmt: skip
        with only_read((path, query)):
            judge(patient.get(path, query), query)
        sent = {one: data.draw(VALUES) for one in names}
        judge(patient.post(path, sent), sent)


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=True) | VALUES,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(VALUES, inner, max_size=4),
    max_leaves=12,
)
#: what a whole message may hold: NaN and Infinity are no JSON, and then nothing of it is read
SOUND = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False)
    | VALUES,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(VALUES, inner, max_size=4),
    max_leaves=12,
)  # fmt: skip
KEYS = ("id", "device_seq", "kind", "tray", "by", "occurred_at", "stage_seen", "count", "signs",
        "losses", "note", "bench", "row", "column", "strikes_out", "trays", "quantity")  # fmt: skip


@settings(max_examples=30, suppress_health_check=NO_CHECKS)
@given(body=JSON)
def test_any_json_is_answered_by_the_tablets_addresses(tablet: Client, body: Any) -> None:
    tablet.raise_request_exception = False
    for path in ("/sync/", "/sync/person"):
        answer = tablet.post(path, json.dumps(body), content_type="application/json")
        assert answer.status_code in {400, 403}
        assert "error" in answer.json()


@settings(max_examples=8, suppress_health_check=NO_CHECKS)
@given(data=st.data())
def test_any_item_of_a_tablet_gets_its_own_answer(tablet: Client, data: st.DataObject) -> None:
    tablet.raise_request_exception = False
    TrayFactory(counted=60)
    kinds = ("check", "strike_out", "move", "prick_out", "pot_up")
    items = [
        {key: data.draw(SOUND) for key in data.draw(st.sets(st.sampled_from(KEYS)))}
        | {"id": str(uuid.uuid4()), "kind": data.draw(st.sampled_from(kinds))}
        | {"occurred_at": NOW.isoformat()}
        for _ in range(3)
    ]
    body = json.dumps({"sent_at": NOW.isoformat(), "generation": 1, "items": items})
    answer = tablet.post("/sync/", body, content_type="application/json")
    assert answer.status_code == 200, answer.content
    told = answer.json()["results"]
    assert [one["id"] for one in told] == [one["id"] for one in items]
    known = {"created", "duplicate", "merged", "review", "rejected"}
    assert {one["status"] for one in told} <= known


@settings(max_examples=4, suppress_health_check=NO_CHECKS)
@given(data=st.data())
def test_the_labels_page_answers_whatever_is_asked_and_sent(
    patient: Client, data: st.DataObject
) -> None:
    path = path_of("batches:labels")
    names = sorted(fields_of(patient.get(path).content.decode()) | {"kind", "stock"})
    asked = ("tray", "batch", "lot", "source", "bench", "again", "unlabelled", "kind", "laid_out")
    for key in asked:
        judge(patient.get(path, {key: data.draw(VALUES)}), key)
    for more in ({}, {"codes": "T0001", "kind": "tray", "stock": "a4-24", "do": "look"}):
        sent = {one: data.draw(VALUES) for one in names} | more
        judge(patient.post(path, sent), sent)


@pytest.mark.parametrize("value", ["", MARKUP, "\x00", "x" * 11_000, "/../../", "//a.example"])
def test_signing_out_answers_whatever_is_sent(value: str, patient: Client) -> None:
    path = path_of("batches:sign-out")
    judge(patient.get(path, {"next": value}), value)
    answer = patient.post(path, {"next": value, "deed": value})
    assert (answer.status_code, answer["Location"]) == (302, "/sign-in/")
    assert patient.get("/people/").status_code == 302


def test_every_address_is_sent_anything() -> None:
    walked = set(RULES) - LEFT_OUT
    own_tests = {"batches:labels", "batches:sign-out"}
    assert walked | own_tests == set(NAMED)
    assert walked & own_tests == set()
