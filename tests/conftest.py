"""Which people, days and servers do all tests share?

People: the clients `hand`, `office`, `manager` and `stranger`, the same three and one in every
access test. Days: `today` and `now`, fixed; `fixed_clock` makes pages believe them. Servers: see
tests/running_nursery.py; `nursery` is a started one with a new data folder of its own.
"""

from __future__ import annotations

import os
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.db import connection
from django.test import Client, TransactionTestCase
from hypothesis import settings as hypothesis_settings

from tests.factories.days import NOW, TODAY
from tests.running_nursery import PreparedNursery, RunningNursery

# The same examples in every run, and no deadlines: other people's work runs on the same machine.
hypothesis_settings.register_profile("nursery", derandomize=True, deadline=None)
hypothesis_settings.load_profile("nursery")

SANDBOX = tempfile.TemporaryDirectory(prefix="frondbook-tests-")


def pytest_configure() -> None:
    """Keep the tests away from any real nursery's files, and hash passwords quickly."""
    folder = Path(SANDBOX.name)
    django_settings.NURSERY_DATA = folder
    django_settings.MEDIA_ROOT = folder / "photos"
    django_settings.STATIC_ROOT = folder / "static"
    for made in (django_settings.MEDIA_ROOT, django_settings.STATIC_ROOT):
        made.mkdir(exist_ok=True)
    django_settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    _let_flush_empty_guarded_tables()


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what concerns the other kind of database.

    Servers and commands in processes of their own have SQLite files of their own, whatever the
    tests run on: on PostgreSQL they would only be the same tests again.
    """
    on_postgres = "postgresql" in django_settings.DATABASES["default"]["ENGINE"]
    other = "sqlite_only" if on_postgres else "postgres"

    def stays(item: pytest.Item) -> bool:
        processes = {"nursery", "data_folder", "prepared_nursery"}
        apart = processes & set(getattr(item, "fixturenames", ()))
        return item.get_closest_marker(other) is None and not (on_postgres and apart)

    left_out = [item for item in items if not stays(item)]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if stays(item)]


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Say in one line what was skipped, and why."""
    reasons = Counter(_reason(report) for report in terminalreporter.stats.get("skipped", []))
    if reasons:
        said = "; ".join(f"{count} tests, {reason}" for reason, count in reasons.items())
        terminalreporter.write_line(f"Skipped: {said}.")


def _reason(report: pytest.TestReport) -> str:
    told = report.longrepr[2] if isinstance(report.longrepr, tuple) else str(report.longrepr)
    return str(told).removeprefix("Skipped: ").rstrip(".")


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Fail a run in which something was skipped, where nothing may be (in CI)."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    skipped = reporter.stats.get("skipped") if reporter is not None else None
    if skipped and os.environ.get("NURSERY_SKIP_NOTHING") and session.exitstatus == 0:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_unconfigure() -> None:
    """Remove what the tests wrote."""
    SANDBOX.cleanup()


def _let_flush_empty_guarded_tables() -> None:
    """Lift the guards of the event tables while a transactional test empties its database."""
    kept = "_fixture_teardown"  # Django's own; its stubs leave it out
    original = getattr(TransactionTestCase, kept)

    def teardown(self: TransactionTestCase) -> None:
        from batches.models import guards

        guards.drop_guards(connection)
        try:
            original(self)
        finally:
            guards.create_guards(connection)

    setattr(TransactionTestCase, kept, teardown)


@pytest.fixture
def today() -> date:
    """The day on which all tests take place."""
    return TODAY


@pytest.fixture
def now() -> datetime:
    """The moment at which all tests take place, in the nursery's zone."""
    return NOW


@pytest.fixture
def fixed_clock(monkeypatch: pytest.MonkeyPatch) -> datetime:
    """Make pages believe that it is `now`."""
    from batches.views import clock

    monkeypatch.setattr(clock, "now", lambda: NOW)
    return NOW


@pytest.fixture
def later_clock(fixed_clock: datetime, monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """Return what lets three seconds pass on the pages' clock."""
    from batches.views import clock

    def pass_by() -> None:
        moment = clock.now() + timedelta(seconds=3)
        monkeypatch.setattr(clock, "now", lambda: moment)

    return pass_by


def _person(role: str) -> Any:
    from batches.models import Person

    names = {"hand": "Bryn Hale", "office": "Odile Marsh", "manager": "Greta Lunn"}
    found = Person.objects.filter(name=names[role]).first()
    return found or Person.objects.create_user(names[role], role=role)


@pytest.fixture
def hand_person(db: None) -> Any:
    """Bryn Hale, nursery hand."""
    return _person("hand")


@pytest.fixture
def office_person(db: None) -> Any:
    """Odile Marsh, office."""
    return _person("office")


@pytest.fixture
def manager_person(db: None) -> Any:
    """Greta Lunn, manager."""
    return _person("manager")


def _client_of(person: Any) -> Client:
    from batches.views import clock
    from batches.views.session_clock import BEGAN, SEEN

    client = Client()
    client.force_login(person)
    # Seen just now, as on every page but a session's first: queries are counted without that.
    session = client.session
    session[BEGAN] = session[SEEN] = clock.now().isoformat()
    session.save()
    return client


@pytest.fixture
def hand(hand_person: Any) -> Client:
    """A browser in which the nursery hand is signed in."""
    return _client_of(hand_person)


@pytest.fixture
def office(office_person: Any) -> Client:
    """A browser in which the office is signed in."""
    return _client_of(office_person)


@pytest.fixture
def manager(manager_person: Any) -> Client:
    """A browser in which the manager is signed in."""
    return _client_of(manager_person)


@pytest.fixture
def stranger(db: None) -> Client:
    """A browser in which nobody is signed in."""
    return Client()


@pytest.fixture
def tablet(db: None) -> Client:
    """An enrolled bench tablet, without a person."""
    from batches.services import devices

    made = devices.make_enrolment_code(tablet_name="Mist house", made_by="Greta Lunn", now=NOW)
    enrolled = devices.enrol(code=made.secret, now=NOW)
    client = Client()
    client.cookies[django_settings.NURSERY_DEVICE_COOKIE] = enrolled.secret
    return client


# Servers


@pytest.fixture
def over_https(settings: Any) -> None:
    """The site as it is while its network is served over https: its cookies, its address."""
    from batches.services.network_https import HttpsAt

    for name, value in settings.NURSERY_HTTPS_PROFILE.items():
        setattr(settings, name, value)
    settings.ALLOWED_HOSTS = ["fernery.home.arpa", "192.168.1.20", "testserver", "bare"]
    hosts = ("fernery.home.arpa", "192.168.1.20", "127.0.0.1", "localhost")
    settings.NURSERY_HTTPS_AT = HttpsAt(hosts=hosts, port=8443, http_port=8000)


@pytest.fixture(scope="session")
def prepared_nursery(tmp_path_factory: pytest.TempPathFactory) -> PreparedNursery:
    """A data folder that was migrated and whose static files were collected, made once a run."""
    prepared = PreparedNursery(tmp_path_factory.mktemp("prepared") / "data")
    prepared.prepare()
    return prepared


@pytest.fixture
def data_folder(prepared_nursery: PreparedNursery, tmp_path: Path) -> RunningNursery:
    """A new nursery's data folder, its server not started: for commands, and for `start()`."""
    return RunningNursery(prepared_nursery.copy_to(tmp_path / "data"))


@pytest.fixture
def nursery(data_folder: RunningNursery) -> Iterator[RunningNursery]:
    """A real `serve` in a process of its own on a free port, with a data folder of its own."""
    data_folder.start()
    try:
        yield data_folder
    finally:
        data_folder.stop()
