"""Does a one-time link sign in once, and a password only its owner?"""

from __future__ import annotations

import re
from datetime import datetime, timedelta

import pytest
from django.conf import settings
from django.test import Client

from batches.models import Person, SignInLink
from batches.services import people
from batches.views import clock

WORDS = "four ferns in a frame"


@pytest.fixture
def link(hand_person: Person, fixed_clock: datetime) -> str:
    """The address of a new one-time link for the nursery hand."""
    return f"/sign-in/{people.make_signin_link(person=hand_person, now=fixed_clock).secret}/"


def forms_of(page: str) -> list[str]:
    return re.findall(r"<form[^>]*>", page)


def who_is_in(client: Client) -> str | None:
    return client.session.get("_auth_user_id")


def test_a_link_shows_one_button_and_looking_at_it_uses_nothing_up(
    stranger: Client, link: str
) -> None:
    for _ in range(2):
        page = stranger.get(link)
        assert page.status_code == 200
        (form,) = forms_of(page.content.decode())
        assert 'method="post"' in form
        assert f'action="{link}"' in form
        assert page.content.decode().count("<button") == 1
        assert "Bryn Hale" in page.content.decode()
    assert who_is_in(stranger) is None


def test_a_link_page_has_one_form_for_somebody_who_is_signed_in_too(
    manager: Client, link: str
) -> None:
    assert len(forms_of(manager.get(link).content.decode())) == 1


def test_pressing_the_button_signs_in_once(
    stranger: Client, link: str, hand_person: Person
) -> None:
    answer = stranger.post(link)
    assert (answer.status_code, answer["Location"]) == (302, "/")
    assert who_is_in(stranger) == str(hand_person.pk)
    again = Client().post(link)
    assert again.status_code == 410
    assert "used before" in again.content.decode()
    assert Client().get(link).status_code == 410


def test_a_link_is_over_after_a_day(
    stranger: Client, link: str, fixed_clock: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(clock, "now", lambda: fixed_clock + timedelta(hours=23, minutes=59))
    assert stranger.get(link).status_code == 200
    monkeypatch.setattr(clock, "now", lambda: fixed_clock + timedelta(hours=24))
    assert stranger.post(link).status_code == 410
    assert who_is_in(stranger) is None


def test_a_link_of_somebody_who_left_signs_nobody_in(
    stranger: Client, link: str, hand_person: Person
) -> None:
    Person.objects.filter(pk=hand_person.pk).update(is_active=False)
    assert stranger.post(link).status_code == 410


def test_the_secret_of_a_link_is_not_in_the_database(link: str) -> None:
    secret = link.split("/")[2]
    (stored,) = SignInLink.objects.values_list("token_hash", flat=True)
    assert secret not in stored
    assert len(stored) == 64


def test_the_link_page_needs_a_token_as_every_form_does(link: str) -> None:
    strict = Client(enforce_csrf_checks=True)
    assert strict.post(link).status_code == 403
    strict.get(link)
    token = strict.cookies[settings.CSRF_COOKIE_NAME].value
    assert strict.post(link, headers={"X-CSRFToken": token}).status_code == 302


def test_signing_in_changes_the_sessions_key(stranger: Client, link: str) -> None:
    # ASVS 5.0, 7.2.4: a new session token at sign-in.
    session = stranger.session
    session["kept"] = "before"
    session.save()
    before = session.session_key
    stranger.post(link)
    assert stranger.session.session_key != before


def with_password(person: Person) -> Person:
    person.set_password(WORDS)
    person.save()
    return person


def try_password(client: Client, password: str, name: str = "Bryn Hale", **more: str) -> int:
    return client.post("/sign-in/", {"name": name, "password": password, **more}).status_code


def test_name_and_password_sign_in_and_go_on_to_where_one_wanted(
    stranger: Client, hand_person: Person
) -> None:
    with_password(hand_person)
    page = stranger.get("/sign-in/?next=/my-password/").content.decode()
    assert 'value="/my-password/"' in page
    sent = {"name": "Bryn Hale", "password": WORDS, "next": "/my-password/"}
    assert stranger.post("/sign-in/", sent)["Location"] == "/my-password/"


@pytest.mark.parametrize(
    "elsewhere", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)"]
)
def test_signing_in_never_leads_to_another_site(
    stranger: Client, hand_person: Person, elsewhere: str
) -> None:
    with_password(hand_person)
    sent = {"name": "Bryn Hale", "password": WORDS, "next": elsewhere}
    assert stranger.post("/sign-in/", sent)["Location"] == "/"


def test_a_wrong_password_an_unknown_name_and_no_password_at_all_read_alike(
    stranger: Client, hand_person: Person, office_person: Person
) -> None:
    with_password(hand_person)
    pages = [
        stranger.post("/sign-in/", {"name": name, "password": "wrong"}).content.decode()
        for name in ("Bryn Hale", "Odile Marsh", "Nobody Known")
    ]
    said = {re.search(r'id="sign-in-error"><p>(.*?)</p>', page, re.DOTALL) for page in pages}
    assert len({found.group(1) for found in said if found}) == 1
    assert who_is_in(stranger) is None


def test_the_name_that_was_typed_stays_and_the_password_does_not(
    stranger: Client, hand_person: Person
) -> None:
    answer = stranger.post("/sign-in/", {"name": "Bryn Hale", "password": "wr0ng-one"})
    assert answer.status_code == 422
    assert 'value="Bryn Hale"' in answer.content.decode()
    assert "wr0ng-one" not in answer.content.decode()


def test_five_wrong_ones_cost_half_a_minute_and_a_link_stays_open(
    stranger: Client,
    hand_person: Person,
    fixed_clock: datetime,
    link: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with_password(hand_person)
    for _ in range(5):
        assert try_password(stranger, "wrong") == 422
    answer = stranger.post("/sign-in/", {"name": "Bryn Hale", "password": WORDS})
    assert "Wait 3" in answer.content.decode()
    assert who_is_in(stranger) is None
    assert Client().post(link).status_code == 302
    monkeypatch.setattr(clock, "now", lambda: fixed_clock + timedelta(seconds=32))
    assert try_password(stranger, WORDS) == 302


def test_somebody_elses_wrong_tries_do_not_lock_a_colleague_out(
    stranger: Client, hand_person: Person, office_person: Person, fixed_clock: datetime
) -> None:
    with_password(office_person)
    for _ in range(6):
        try_password(stranger, "wrong")
    assert try_password(stranger, WORDS, name="Odile Marsh") == 302


def test_signing_out_ends_the_session_and_only_by_a_form(hand: Client) -> None:
    assert hand.get("/sign-out/").status_code == 405
    assert who_is_in(hand) is not None
    assert hand.post("/sign-out/")["Location"] == "/sign-in/"
    assert who_is_in(hand) is None


def test_a_person_chooses_a_password_and_stays_signed_in(hand: Client, hand_person: Person) -> None:
    assert hand.post("/my-password/", {"new": WORDS})["Location"] == "/"
    assert hand.get("/my-password/").status_code == 200
    assert try_password(Client(), WORDS) == 302


def test_a_password_chosen_ends_the_persons_other_sessions(
    hand: Client, hand_person: Person
) -> None:
    # ASVS 5.0, 7.4.3: whoever learnt the old one is out.
    elsewhere = Client()
    elsewhere.force_login(hand_person)
    assert elsewhere.get("/my-password/").status_code == 200
    hand.post("/my-password/", {"new": WORDS})
    assert elsewhere.get("/my-password/").status_code == 302
    assert hand.get("/my-password/").status_code == 200


@pytest.mark.parametrize(
    ("new", "why"),
    [
        ("short", "at least 12"),
        ("bryn hale 12", "too similar"),
        ("qwertyuiop123", "common"),
        ("123456789012", "numeric"),
    ],
)
def test_a_weak_password_is_refused_and_says_why(
    hand: Client, hand_person: Person, new: str, why: str
) -> None:
    answer = hand.post("/my-password/", {"new": new})
    assert answer.status_code == 422
    assert why in answer.content.decode()
    hand_person.refresh_from_db()
    assert not hand_person.has_usable_password()


def test_who_has_a_password_proves_it_before_changing_it(
    hand_person: Person, stranger: Client
) -> None:
    with_password(hand_person)
    stranger.force_login(hand_person)
    refused = stranger.post("/my-password/", {"current": "wrong", "new": "a shed full of moss"})
    assert refused.status_code == 422
    assert "not your password so far" in refused.content.decode()
    taken = stranger.post("/my-password/", {"current": WORDS, "new": "a shed full of moss"})
    assert taken.status_code == 302
    assert try_password(Client(), "a shed full of moss") == 302
