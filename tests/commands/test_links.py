"""Do the two commands that make links print what scripts and people need?"""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from io import StringIO
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from django.test import Client
from django.utils import timezone

from batches.management import served_at
from batches.models import Device, Person

pytestmark = pytest.mark.django_db

Answer = Callable[..., dict[str, Any]]


@pytest.fixture
def answer() -> Answer:
    """Runs a command with `--json` and gives what it printed."""

    def run(*words: str) -> dict[str, Any]:
        out = StringIO()
        call_command(*words, "--json", stdout=out)
        found: dict[str, Any] = json.loads(out.getvalue())
        return found

    return run


def test_a_sign_in_link_makes_the_person_and_lets_them_in_once(answer: Answer) -> None:
    made = answer("signin_link", "Ines Brake", "--role", "office")
    assert set(made) == {"url", "expires_at"}
    left = datetime.fromisoformat(made["expires_at"]) - timezone.now()
    assert 23 < left.total_seconds() / 3600 <= 24
    path = urlsplit(made["url"]).path
    assert Client().post(path).status_code == 302
    assert Client().post(path).status_code == 410
    assert Person.objects.get().role == "office"


def test_a_second_link_needs_no_role(answer: Answer) -> None:
    first = answer("signin_link", "Ines Brake", "--role", "hand")
    assert answer("signin_link", "Ines Brake")["url"] != first["url"]
    assert Person.objects.get().role == "hand"


def test_somebody_new_without_a_role_is_refused_in_words() -> None:
    with pytest.raises(CommandError, match="Name a role to add them"):
        call_command("signin_link", "Ines Brake")
    assert not Person.objects.exists()


def test_an_enrolment_gives_an_address_and_a_code_to_type(answer: Answer) -> None:
    made = answer("enrol_tablet", "Mist house")
    assert set(made) == {"url", "code", "expires_at"}
    assert urlsplit(made["url"]).path == f"/enrol/{made['code']}/"
    assert Client().post(urlsplit(made["url"]).path).status_code == 200
    assert Device.objects.get().name == "Mist house"


def test_a_tablet_without_a_name_is_refused_in_words() -> None:
    with pytest.raises(CommandError, match="Nothing was made"):
        call_command("enrol_tablet", "  ")


def test_people_read_until_when_it_works() -> None:
    out = StringIO()
    call_command("enrol_tablet", "Mist house", stdout=out)
    assert "It works once, until" in out.getvalue()


def test_addresses_are_those_of_the_running_server(tmp_path: Path, settings: Any) -> None:
    settings.NURSERY_DATA = tmp_path
    settings.NURSERY_PORT = 8123
    assert served_at.address_of("batches:health") == "http://127.0.0.1:8123/health/"
    served_at.keep_address("http://fernhost.local:9000")
    assert served_at.address_of("batches:health") == "http://fernhost.local:9000/health/"
    assert served_at.setup_address() == ""
    served_at.keep_address("https://fernhost.local:9443", setup="http://fernhost.local:9000/setup/")
    assert served_at.address_of("batches:health") == "https://fernhost.local:9443/health/"
    assert served_at.setup_address() == "http://fernhost.local:9000/setup/"
    served_at.forget_address()
    served_at.forget_address()
    assert served_at.setup_address() == ""
    assert served_at.address_of("batches:health") == "http://127.0.0.1:8123/health/"


def test_settings_are_the_tests_own() -> None:
    # No test may write into a nursery's data folder, whatever the environment names.
    assert "frondbook-tests-" in str(settings.NURSERY_DATA)
    assert "frondbook-tests-" in str(settings.MEDIA_ROOT)
