"""Does every page open for exactly those who are meant to open it?

Whoever adds a page adds its line to `RULES`: the test fails for an address without one. It opens
every address as a nursery hand, as the office, as the manager, as an enrolled tablet and as a
stranger, with GET and with POST, and looks at nothing but whether they were let in.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

import pytest
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponse
from django.test import Client, RequestFactory
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from batches.models import ChangeNote, Device, Person
from batches.services import devices, people
from batches.services.change_notes import chain_check
from batches.views.access import Access, access_needed, access_of

ANYONE, TABLET, HAND, OFFICE, MANAGER = Access

#: name of the address → who may open it
RULES: dict[str, Access] = {
    "batches:about": HAND,
    "batches:help": TABLET,
    "batches:words": TABLET,
    "batches:weekly-note": HAND,
    "batches:weekly-print": HAND,
    "batches:weekly-text": HAND,
    "batches:availability": OFFICE,
    "batches:availability-csv": OFFICE,
    "batches:availability-print": OFFICE,
    "batches:backup-now": MANAGER,
    "batches:backups": MANAGER,
    "batches:batch": HAND,
    "batches:batch-card": HAND,
    "batches:batches": HAND,
    "batches:bench": HAND,
    "batches:bench-card": HAND,
    "batches:bench-day": TABLET,
    "batches:bench-drawing": OFFICE,
    "batches:bench-edit": OFFICE,
    "batches:bench-map": HAND,
    "batches:bench-move": HAND,
    "batches:bench-new": OFFICE,
    "batches:bench-page": TABLET,
    "batches:calendar": ANYONE,
    "batches:my-calendar": HAND,
    "batches:darwin-core-archive": OFFICE,
    "batches:darwin-core-csv": OFFICE,
    "batches:drill": OFFICE,
    "batches:drills": OFFICE,
    "batches:changes": MANAGER,
    "batches:changes-csv": MANAGER,
    "batches:durations": HAND,
    "batches:durations-adopt": MANAGER,
    "batches:dispatches": OFFICE,
    "batches:dispatches-csv": OFFICE,
    "batches:dispatches-print": OFFICE,
    "batches:enrol": ANYONE,
    "batches:enrol-typed": ANYONE,
    "batches:examination-new": HAND,
    "batches:examinations": HAND,
    "batches:examinations-csv": HAND,
    "batches:fern": HAND,
    "batches:fern-edit": OFFICE,
    "batches:fern-new": OFFICE,
    "batches:fern-windows": OFFICE,
    "batches:ferns": HAND,
    "batches:forecast": OFFICE,
    "batches:forecast-back-test": OFFICE,
    "batches:give-back": HAND,
    "batches:health": ANYONE,
    "health": ANYONE,
    "batches:hold": HAND,
    "batches:hold-lift": MANAGER,
    "batches:hold-new": HAND,
    "batches:holds": HAND,
    "batches:house-edit": OFFICE,
    "batches:house-new": OFFICE,
    "batches:houses": HAND,
    "batches:label-stock-calibration": OFFICE,
    "batches:label-stock-edit": OFFICE,
    "batches:label-stock-new": OFFICE,
    "batches:label-stock-test": OFFICE,
    "batches:label-stock-use": OFFICE,
    "batches:label-stocks": OFFICE,
    "batches:labels": HAND,
    "batches:labels-log": HAND,
    "batches:labels-run": HAND,
    "batches:labels-run-pdf": HAND,
    "batches:labels-run-state": HAND,
    "batches:labels-sheet": HAND,
    "batches:laid-out": HAND,
    "batches:look-over": HAND,
    "batches:lot": HAND,
    "batches:lot-new": HAND,
    "batches:lots": HAND,
    "batches:media": HAND,
    "batches:medium-new": HAND,
    "batches:morning-list": HAND,
    "batches:my-language": HAND,
    "batches:my-password": HAND,
    "batches:my-pin": HAND,
    "batches:order-close": OFFICE,
    "batches:order-new": OFFICE,
    "batches:orders": OFFICE,
    "batches:patch-out": HAND,
    "batches:passport-settings": MANAGER,
    "batches:passport-spoiled": OFFICE,
    "batches:passports": OFFICE,
    "batches:passports-csv": OFFICE,
    "batches:passports-print": OFFICE,
    "batches:people": MANAGER,
    "batches:person-badge": MANAGER,
    "batches:person-link": MANAGER,
    "batches:person-rename": MANAGER,
    "batches:person-stop": MANAGER,
    "batches:photo": HAND,
    "batches:photo-small": TABLET,
    "batches:pot-on": HAND,
    "batches:pot-up": HAND,
    "batches:prick-out": HAND,
    "batches:prove": HAND,
    "batches:readings": HAND,
    "batches:reckon": HAND,
    "batches:records": OFFICE,
    "batches:records-export": OFFICE,
    "batches:records-preview": OFFICE,
    "batches:restore-card": MANAGER,
    "batches:round-sheet": HAND,
    "batches:round-sheet-enter": HAND,
    "batches:search": HAND,
    "batches:settings": MANAGER,
    "batches:settle-correct": MANAGER,
    "batches:setup": ANYONE,
    "batches:setup-authority": ANYONE,
    "batches:setup-profile": ANYONE,
    "batches:shared-causes": HAND,
    "batches:select-form": HAND,
    "batches:service-worker": ANYONE,
    "batches:sign-in": ANYONE,
    "batches:sign-in-link": ANYONE,
    "batches:sign-out": ANYONE,
    "batches:sow": HAND,
    "batches:sow-about": HAND,
    "batches:sow-route": HAND,
    "batches:sowing-book": OFFICE,
    "batches:sowing-book-columns": OFFICE,
    "batches:sowing-book-ferns": OFFICE,
    "batches:sowing-drop": OFFICE,
    "batches:sowing-list": HAND,
    "batches:sowing-plan": OFFICE,
    "batches:starter-ferns": OFFICE,
    "batches:stock-plant": HAND,
    "batches:stock-plant-edit": HAND,
    "batches:stock-plant-new": HAND,
    "batches:stock-plants": HAND,
    "batches:survival": HAND,
    "batches:sync": TABLET,
    "batches:sync-hello": TABLET,
    "batches:sync-person": TABLET,
    "batches:sync-photo": TABLET,
    "batches:tablet-enrol": MANAGER,
    "batches:tablet-file": MANAGER,
    "batches:tablet-revoke": MANAGER,
    "batches:tablets": OFFICE,
    "batches:to-settle": MANAGER,
    "batches:today": HAND,
    "batches:today-care": HAND,
    "batches:today-give": OFFICE,
    "batches:today-nothing-new": HAND,
    "batches:today-undo-look": HAND,
    "batches:trace": HAND,
    "batches:trace-print": HAND,
    "batches:trace-print-asked": HAND,
    "batches:trace-start": HAND,
    "batches:tray": HAND,
    "batches:tray-deed": HAND,
    "batches:tray-short": TABLET,
    "batches:tray-small-deed": HAND,
    "batches:tray-strike": HAND,
    "batches:treatment-mend": OFFICE,
    "batches:treatment-new": HAND,
    "batches:treatments": HAND,
    "batches:treatments-csv": HAND,
    "batches:treatments-print": HAND,
    "batches:treatments-pdf": HAND,
}

#: what stands for the parts of an address; they need not exist: who may not come in learns nothing
PARTS = {"str": "26W14-073-05-P", "int": 1, "slug": "looks", "uuid": UUID(int=0), "path": "x"}


def addresses() -> Iterator[tuple[str, URLPattern]]:
    """Give every named address of the site with its pattern, however deep it is included."""

    def walk(patterns: list[Any], prefix: str) -> Iterator[tuple[str, URLPattern]]:
        for pattern in patterns:
            if isinstance(pattern, URLResolver):
                space = f"{pattern.namespace}:" if pattern.namespace else ""
                yield from walk(pattern.url_patterns, prefix + space)
            else:
                yield f"{prefix}{pattern.name}", pattern

    yield from walk(get_resolver().url_patterns, "")


NAMED = dict(addresses())


def path_of(name: str) -> str:
    """Give a full path for a name, with stand-ins for its parts."""
    converters = NAMED[name].pattern.converters
    kinds = {
        part: type(converter).__name__.removesuffix("Converter").lower().replace("string", "str")
        for part, converter in converters.items()
    }
    return reverse(name, kwargs={part: PARTS[kind] for part, kind in kinds.items()})


def test_every_address_has_a_name_and_a_rule_and_no_rule_is_left_over() -> None:
    assert set(NAMED) - set(RULES) == set(), "an address without a rule in RULES"
    assert set(RULES) - set(NAMED) == set(), "a rule for an address that is gone"


@pytest.mark.parametrize("name", sorted(RULES))
def test_a_view_declares_what_its_rule_says(name: str) -> None:
    callback = NAMED[name].callback
    assert hasattr(callback, "needed_access"), f"{name} is not marked: see batches/views/access.py"
    assert access_needed(callback) == RULES[name]


def ways_into(name: str) -> set[str]:
    """Give the methods that a view says it takes, when asked by one that nothing takes."""
    odd = RequestFactory().generic("BREW", "/")
    answer = NAMED[name].callback(odd, **dict.fromkeys(NAMED[name].pattern.converters, "1"))
    assert answer.status_code == 405, name
    return set(answer["Allow"].split(", "))


#: what changes something is only sent (the rest read, or show the form that is sent)
ONLY_SENT = {
    "backup-now", "bench-move", "durations-adopt", "give-back", "hold-lift", "label-stock-use",
    "my-language", "order-close", "passport-spoiled", "person-link", "person-stop", "sign-out",
    "sowing-drop", "sync", "sync-person", "sync-photo", "tablet-enrol", "tablet-file",
    "tablet-revoke", "today-care", "today-give", "today-nothing-new", "today-undo-look",
    "tray-small-deed", "tray-strike",
}  # fmt: skip


def test_every_view_says_by_which_methods_it_is_asked_and_a_deed_is_none_that_reads() -> None:
    # ASVS 5.0, 3.5.3: what changes something is not asked for by a safe method. That no GET
    # writes is tried in tests/views/test_any_input.py.
    ways = {name: ways_into(name) for name in NAMED}
    assert set().union(*ways.values()) == {"GET", "HEAD", "POST", "PUT"}
    only_sent = {name for name, taken in ways.items() if not taken & {"GET", "HEAD"}}
    assert only_sent == {f"batches:{name}" for name in ONLY_SENT}


@pytest.mark.parametrize("name", sorted(ONLY_SENT))
def test_a_get_to_what_only_takes_what_is_sent_is_405(name: str, manager: Client) -> None:
    for method in ("GET", "HEAD", "DELETE"):
        assert manager.generic(method, path_of(f"batches:{name}")).status_code == 405


REACHED = 299


@pytest.fixture
def doors(monkeypatch: pytest.MonkeyPatch) -> None:
    """Put a door in place of every view: marked as the view is, and it says when it was reached."""
    for pattern in NAMED.values():

        def door(request: HttpRequest, **parts: object) -> HttpResponse:
            return HttpResponse(status=REACHED)

        door.__dict__.update(pattern.callback.__dict__)
        monkeypatch.setattr(pattern, "callback", door)


@pytest.fixture
def everybody(
    stranger: Client, tablet: Client, hand: Client, office: Client, manager: Client
) -> dict[Access, Client]:
    """The browsers of all kinds of people, by what they may do."""
    return {ANYONE: stranger, TABLET: tablet, HAND: hand, OFFICE: office, MANAGER: manager}


@pytest.mark.parametrize("method", ["GET", "POST"])
@pytest.mark.parametrize("name", sorted(RULES))
@pytest.mark.usefixtures("doors")
def test_a_page_opens_for_those_who_may_open_it_and_for_nobody_else(
    everybody: dict[Access, Client], name: str, method: str
) -> None:
    let_in = {
        who
        for who, client in everybody.items()
        if client.generic(method, path_of(name)).status_code == REACHED
    }
    assert let_in == {who for who in Access if who >= RULES[name]}


@pytest.mark.parametrize("name", sorted(name for name in RULES if RULES[name] > ANYONE))
@pytest.mark.usefixtures("doors")
def test_a_refusal_asks_strangers_to_sign_in_and_tells_others_why(
    everybody: dict[Access, Client], name: str
) -> None:
    path = path_of(name)
    in_json = getattr(NAMED[name].callback, "answers_json", False)
    for who, client in everybody.items():
        if who >= RULES[name]:
            continue
        answer = client.get(path)
        if who >= HAND:
            assert answer.status_code == 403
            assert "role does not include this" in answer.content.decode()
        elif in_json:
            assert answer.status_code == 401
            assert "Nothing was stored" in answer.json()["error"]
        else:
            assert answer.status_code == 302
            assert answer["Location"] == f"/sign-in/?{urlencode({'next': path})}"


@pytest.mark.usefixtures("doors")
def test_a_view_that_says_nothing_is_for_managers(
    everybody: dict[Access, Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    pattern = NAMED["batches:sign-in"]
    monkeypatch.setattr(pattern, "callback", lambda _: HttpResponse(status=REACHED))
    statuses = {who: client.get("/sign-in/").status_code for who, client in everybody.items()}
    assert statuses == {ANYONE: 302, TABLET: 302, HAND: 403, OFFICE: 403, MANAGER: REACHED}


def test_a_page_refused_to_somebody_signed_in_is_noted(
    hand: Client, stranger: Client, tablet: Client
) -> None:
    for client in (stranger, tablet, hand):
        client.post("/people/", {"name": "Bryn Hale", "role": "manager"})
    (noted,) = ChangeNote.objects.all()
    assert (noted.what, noted.by, noted.about) == ("page refused", "Bryn Hale", "POST /people/")
    assert chain_check().faults == ()


def test_a_partial_asked_for_by_a_stranger_leaves_the_page_for_the_sign_in(
    stranger: Client,
) -> None:
    # Following a plain redirect, htmx would put the sign-in form into the partial's place.
    answer = stranger.get("/my-password/", headers={"HX-Request": "true"})
    assert answer["HX-Redirect"] == "/sign-in/"


def test_a_revoked_tablet_and_somebody_who_left_are_strangers(
    tablet: Client, hand: Client, hand_person: Person, now: datetime
) -> None:
    request = RequestFactory().get("/")
    request.user = AnonymousUser()
    request.COOKIES = {key: morsel.value for key, morsel in tablet.cookies.items()}
    assert access_of(request) == TABLET
    devices.revoke(device=Device.objects.get(), now=now)
    del request.__dict__["_tablet"]
    assert access_of(request) == ANYONE
    assert hand.get("/my-password/").status_code == 200
    people.stop_person(person=hand_person)
    assert hand.get("/my-password/").status_code == 302


def test_a_form_with_a_stale_token_is_refused_in_words(hand_person: Person) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(hand_person)
    answer = client.post("/my-password/", {"new": "four ferns in a frame"})
    assert answer.status_code == 403
    assert "Nothing was stored" in answer.content.decode()
    hand_person.refresh_from_db()
    assert not hand_person.has_usable_password()


def test_an_unknown_host_is_refused(stranger: Client) -> None:
    assert stranger.get("/health/", headers={"Host": "elsewhere.example"}).status_code == 400
