"""Is the nursery's network served over https by one process, whatever others on it do?

Every connection goes to loopback, and trusts the nursery's own authority and nobody else.
"""

from __future__ import annotations

import contextlib
import http.client
import re
import signal
import socket
import ssl
import subprocess
import sys
import time
import urllib.request
import warnings
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

from batches.management import serve_plan, served_at
from batches.services import lan_names
from batches.services.local_authority import folder_of, read_authority
from batches.services.network_https import prepare_https
from batches.services.server_certificate import read_server_certificate
from tests.commands.test_serve import HALF_BODY, HALF_HEAD, PATIENCE_S, UNREAD
from tests.running_nursery import ROOT, PreparedNursery, RunningNursery

NAME = "fernery.home.arpa"
LAN = ("--lan", "--host", "127.0.0.1")


class Network:
    """A nursery served over https, and what devices on its network do."""

    def __init__(self, nursery: RunningNursery) -> None:
        self.nursery = nursery
        self.https_port = urlsplit(nursery.url).port or 0
        said = nursery.read_on(seconds=30, awaited="/setup/ once")
        found = re.search(r"http://\S+:(\d+)/setup/ once", said)
        assert found is not None
        self.http_port = int(found.group(1))

    def trust(self) -> ssl.SSLContext:
        """Trust the nursery's authority alone, as a device that was set up."""
        authority = read_authority(data=self.nursery.data)
        assert authority is not None
        return ssl.create_default_context(cadata=authority.pem.decode())

    def get(
        self, path: str, *, name: str = NAME, method: str = "GET"
    ) -> tuple[http.client.HTTPResponse, float]:
        """Ask over https under a name, and give the answer with the seconds it took."""
        began = time.monotonic()
        raw = socket.create_connection(("127.0.0.1", self.https_port), timeout=30)
        asked = http.client.HTTPSConnection(name, self.https_port, timeout=30)
        asked.sock = self.trust().wrap_socket(raw, server_hostname=name)
        asked.request(method, path)
        answer = asked.getresponse()
        answer.body = answer.read()  # type: ignore[attr-defined]
        asked.close()
        return answer, time.monotonic() - began

    def get_by_http(self, path: str) -> http.client.HTTPResponse:
        """Ask by plain http, and follow nothing."""
        asked = http.client.HTTPConnection("127.0.0.1", self.http_port, timeout=30)
        asked.request("GET", path, headers={"Host": f"{NAME}:{self.http_port}"})
        answer = asked.getresponse()
        answer.read()
        asked.close()
        return answer

    @contextlib.contextmanager
    def many(self, count: int, begin: bytes, *, over: str) -> Iterator[None]:
        """Hold connections open that sent `begin` and no more; over tcp, tls or http."""
        port = self.http_port if over == "http" else self.https_port
        with contextlib.ExitStack() as stack:
            for _ in range(count):
                one = stack.enter_context(socket.create_connection(("127.0.0.1", port), 30))
                if over == "tls":
                    one = stack.enter_context(
                        self.trust().wrap_socket(one, server_hostname="127.0.0.1")
                    )
                one.sendall(begin)
            yield


@pytest.fixture
def named(data_folder: RunningNursery) -> RunningNursery:
    """A nursery that has a name on its network; not started."""
    data_folder.environment["NURSERY_HOSTS"] = NAME
    return data_folder


@pytest.fixture(scope="module")
def network(
    prepared_nursery: PreparedNursery, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Network]:
    """One that is served, for all tests that neither end it nor change what it serves with."""
    nursery = RunningNursery(
        prepared_nursery.copy_to(tmp_path_factory.mktemp("network") / "data"),
        more_environment={"NURSERY_HOSTS": NAME},
    )
    nursery.start(*LAN)
    try:
        yield Network(nursery)
    finally:
        nursery.stop()


def test_a_device_that_trusts_the_authority_alone_gets_pages_under_every_name(
    network: Network,
) -> None:
    assert network.nursery.url == f"https://{NAME}:{network.https_port}"
    for name in (NAME, "127.0.0.1", "localhost"):
        answer, _ = network.get("/sign-in/", name=name)
        assert answer.status == 200
        assert answer.getheader("Strict-Transport-Security") is None
        cookie = answer.getheader("Set-Cookie") or ""
        assert cookie.startswith("__Host-frondbook_csrftoken=")
        assert "Secure" in cookie
    with pytest.raises(ssl.SSLCertVerificationError, match="Hostname mismatch"):
        network.get("/health/", name="www.example.com")


def test_a_device_that_was_not_set_up_refuses(network: Network) -> None:
    with (
        socket.create_connection(("127.0.0.1", network.https_port), 30) as raw,
        pytest.raises(ssl.SSLCertVerificationError, match="unable to get local issuer"),
    ):
        ssl.create_default_context().wrap_socket(raw, server_hostname=NAME)


def test_old_ways_of_speaking_tls_are_refused(network: Network) -> None:
    # RFC 8996 deprecates TLS 1.0 and 1.1.
    old = network.trust()
    old.set_ciphers("DEFAULT:@SECLEVEL=0")
    with warnings.catch_warnings(action="ignore", category=DeprecationWarning):
        old.minimum_version = ssl.TLSVersion.TLSv1
        old.maximum_version = ssl.TLSVersion.TLSv1_1
    with (
        socket.create_connection(("127.0.0.1", network.https_port), 30) as raw,
        pytest.raises((ssl.SSLError, ConnectionError)),
    ):
        old.wrap_socket(raw, server_hostname=NAME)


def test_plain_http_sets_a_device_up_and_leads_elsewhere_to_https(network: Network) -> None:
    assert network.get_by_http("/setup/").status == 200
    assert network.get_by_http("/health/").status == 200
    answer = network.get_by_http("/t/26W14-073-05-P")
    assert answer.status == 302
    assert answer.getheader("Location") == f"https://{NAME}:{network.https_port}/t/26W14-073-05-P"


def test_links_and_codes_are_made_for_the_https_address(network: Network) -> None:
    nursery = network.nursery
    made = nursery.answer("enrol_tablet", "Mist house")
    assert made["url"] == f"{nursery.url}/enrol/{made['code']}/"
    in_words = nursery.command("enrol_tablet", "Fern house").stdout
    assert f"opens first: http://{NAME}:{network.http_port}/setup/" in in_words
    link = nursery.link_for("hand")
    assert link.startswith(f"{nursery.url}/sign-in/")
    answer, _ = network.get(urlsplit(link).path)
    assert answer.status == 200
    assert "Bryn Hale" in answer.body.decode()  # type: ignore[attr-defined]


def test_a_page_comes_at_once_beside_silent_connections_half_heads_and_half_bodies(
    network: Network,
) -> None:
    network.get("/sign-in/")
    # The first piece of a handshake: a client hello of 512 bytes that breaks off after its head.
    half_hello = b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03"
    with contextlib.ExitStack() as stack:
        for over in ("tcp", "http"):
            stack.enter_context(network.many(40, b"", over=over))
        stack.enter_context(network.many(30, half_hello, over="tcp"))
        for over in ("tls", "http"):
            stack.enter_context(network.many(30, HALF_BODY, over=over))
            stack.enter_context(network.many(30, HALF_HEAD, over=over))
        time.sleep(0.3)
        for path in ("/health/", "/sign-in/"):
            answer, seconds = network.get(path)
            assert answer.status == 200
            assert seconds < PATIENCE_S
        began = time.monotonic()
        assert network.get_by_http("/setup/").status == 200
        assert time.monotonic() - began < PATIENCE_S


def test_a_page_comes_at_once_beside_readers_that_never_read(network: Network) -> None:
    network.get("/sign-in/")
    with network.many(20, UNREAD, over="tls"), network.many(20, UNREAD, over="http"):
        time.sleep(1)
        answer, seconds = network.get("/sign-in/")
        assert answer.status == 200
        assert seconds < PATIENCE_S


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_the_server_stops_when_told_even_while_connections_hang(
    named: RunningNursery, number: signal.Signals
) -> None:
    named.start(*LAN)
    try:
        network = Network(named)
        with (
            network.many(5, HALF_BODY, over="tls"),
            network.many(5, b"", over="tcp"),
            network.many(5, UNREAD, over="tls"),
        ):
            time.sleep(0.3)
            process = named.process
            assert process is not None
            process.send_signal(number)
            assert process.wait(20) == 0
        assert "Everything that was saved is kept" in named.read_on()
        assert "Traceback" not in named.said
    finally:
        named.stop()


def test_the_terminal_names_the_address_the_fingerprint_and_shows_a_symbol(
    network: Network,
) -> None:
    said = network.nursery.read_on(seconds=10, awaited="holds until")
    authority = read_authority(data=network.nursery.data)
    served = read_server_certificate(data=network.nursery.data)
    assert authority is not None
    assert served is not None
    assert authority.fingerprint.replace(":", " ") in " ".join(said.split())
    assert f"holds until {served.until:%Y-%m-%d}" in said
    assert "█▀" in said


def test_a_terminal_without_block_drawings_gets_words_alone(named: RunningNursery) -> None:
    named.environment["PYTHONIOENCODING"] = "cp1252"
    named.start(*LAN)
    said = named.read_on(seconds=10, awaited="holds until")
    named.stop()
    assert "█" not in said
    assert "holds until" in said


def test_the_authority_stays_over_a_restart_and_a_certificate_that_ages_is_renewed(
    named: RunningNursery,
) -> None:
    early = datetime.now(UTC) - timedelta(days=340)
    called = (NAME, "127.0.0.1")
    before = prepare_https(data=named.data, called=called, limited=True, now=early)
    named.start(*LAN)
    try:
        answer, _ = Network(named).get("/health/")
        assert answer.status == 200
    finally:
        named.stop()
    authority = read_authority(data=named.data)
    served = read_server_certificate(data=named.data)
    assert authority is not None
    assert served is not None
    assert authority.fingerprint == before.authority.fingerprint
    assert served.days_left(datetime.now(UTC)) == 395  # 396 days less the seconds since


def test_an_authority_that_cannot_be_read_stops_the_start_in_words(named: RunningNursery) -> None:
    folder_of(named.data).mkdir()
    (folder_of(named.data) / "authority.pem").write_bytes(b"cut short")
    refused = named.command("serve", "--port", "0", *LAN, check=False, timeout=60)
    assert refused.returncode == 1
    assert "Bring it back from a copy" in refused.stderr
    assert "Traceback" not in refused.stderr


def test_a_folder_that_cannot_be_written_to_stops_the_start_in_words(
    named: RunningNursery,
) -> None:
    folder_of(named.data).write_bytes(b"a file where the folder should be")
    refused = named.command("serve", "--port", "0", *LAN, check=False, timeout=60)
    assert refused.returncode == 1
    assert "The certificate for https cannot be kept" in refused.stderr
    assert "Traceback" not in refused.stderr


def test_a_public_name_is_named_as_left_out(data_folder: RunningNursery) -> None:
    data_folder.environment["NURSERY_HOSTS"] = "ferns.example.com"
    data_folder.start(*LAN)
    said = data_folder.read_on(seconds=10, awaited="vouches")
    data_folder.stop()
    assert data_folder.url.startswith("https://127.0.0.1:")
    assert "Not over https: ferns.example.com." in said


def test_a_taken_https_port_is_named_in_words(network: Network) -> None:
    other = RunningNursery(network.nursery.data.parent / "another")
    refused = other.command(
        "serve", "--port", "0", "--https-port", str(network.https_port), *LAN,
        check=False, timeout=60,
    )  # fmt: skip
    assert refused.returncode == 1
    assert f"127.0.0.1:{network.https_port}" in refused.stderr
    assert "--https-port" in refused.stderr
    assert "Traceback" not in refused.stderr


def test_plain_http_for_the_network_says_what_it_lacks(named: RunningNursery) -> None:
    named.start(*LAN, "--http")
    try:
        said = named.read_on(seconds=10, awaited="With --lan alone")
        assert named.url.startswith(f"http://{NAME}:")
        assert "can read names and records" in said
        assert "must keep its page open" in said
        local = f"http://127.0.0.1:{urlsplit(named.url).port}"
        with urllib.request.urlopen(f"{local}/sign-in/", timeout=30) as page:
            assert page.headers["Set-Cookie"].startswith("frondbook_csrftoken=")
            assert "Secure" not in page.headers["Set-Cookie"]
    finally:
        named.stop()
    assert read_authority(data=named.data) is None


def test_no_backup_holds_the_key(network: Network, tmp_path: Path) -> None:
    made = network.nursery.answer("backup", str(tmp_path / "stick"))
    content = Path(made["file"]).read_bytes()
    key = (folder_of(network.nursery.data) / "authority.pem").read_bytes()
    import io
    import zipfile

    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        assert not [name for name in packed.namelist() if "cert" in name or name.endswith(".pem")]
        assert all(key not in packed.read(name) for name in packed.namelist())


def test_the_key_is_no_web_page(network: Network) -> None:
    for path in (
        "/certificates/authority.pem", "/static/../certificates/authority.pem",
        "/static/%2e%2e/certificates/authority.pem", "/photos/../certificates/authority.pem",
    ):  # fmt: skip
        answer, _ = network.get(path)
        assert answer.status in {302, 404}
        assert b"PRIVATE" not in answer.body  # type: ignore[attr-defined]


# A server whose certificate is looked at every tenth of a second; it says which it serves with
# before and after, and keeps a connection open meanwhile.
RENEWED_WHILE_SERVING = """
import os, signal, socket, ssl, sys, threading, time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from batches.services.network_https import prepare_https
from batches.services.server_config import server_config
from batches.services.serving import serve_until_told

data = Path(sys.argv[1])
today = [datetime.now(UTC)]

def prepare():
    return prepare_https(data=data, called=("127.0.0.1",), limited=True, now=today[0])

held = [prepare()]

def renewed():
    newest = prepare()
    if not newest.is_newer_than(held[0]):
        return False
    held[0] = newest
    return True

def page(environ, start):
    start("200 OK", [("Content-Length", "2")])
    return [b"ok"]

def connection():
    trust = ssl.create_default_context(cadata=held[0].authority.pem.decode())
    trust.check_hostname, trust.verify_mode = False, ssl.CERT_NONE  # its day is still to come
    raw = socket.create_connection(("127.0.0.1", port), 30)
    return trust.wrap_socket(raw, server_hostname="127.0.0.1")

def asked(one):
    one.sendall(b"GET / HTTP/1.1\\r\\nHost: x\\r\\n\\r\\n")
    heard = b""
    while not heard.endswith(b"ok"):
        heard += one.recv(4096)
    return heard.split(b"\\r\\n")[0].decode()

def serial(one):
    from cryptography import x509
    return x509.load_der_x509_certificate(one.getpeercert(binary_form=True)).serial_number

def walk():
    try:
        look()
    finally:
        os.kill(os.getpid(), signal.SIGTERM)

def look():
    first = connection()
    print(asked(first), serial(first) == held[0].certificate.certificate.serial_number)
    before = serial(first)
    today[0] += timedelta(days=340)
    until = time.monotonic() + 20
    while serial(second := connection()) == before and time.monotonic() < until:
        time.sleep(0.1)
    print(asked(second), serial(second) == held[0].certificate.certificate.serial_number,
          serial(second) != before)
    print(asked(first))

config = server_config(bind=["127.0.0.1:0"], insecure_bind=[], max_body=1000,
                       certificate=held[0].certificate.path)
sockets = config.create_sockets()
sockets.secure_sockets[0].listen(50)
port = sockets.secure_sockets[0].getsockname()[1]
threading.Thread(target=walk, daemon=True).start()
serve_until_told(page, config, sockets, renewed=renewed, look_every=0.1)
print("ended")
"""


def test_a_certificate_is_renewed_while_pages_are_served(tmp_path: Path) -> None:
    """New connections get the new one; those that are open go on."""
    done = subprocess.run(
        [sys.executable, "-c", RENEWED_WHILE_SERVING, str(tmp_path)], cwd=ROOT,
        env={"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin"},
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.stdout.splitlines() == [
        "HTTP/1.1 200  True", "HTTP/1.1 200  True True", "HTTP/1.1 200 ", "ended",
    ], done.stderr  # fmt: skip


def test_a_fault_while_looking_after_the_certificate_does_not_end_the_serving(
    tmp_path: Path,
) -> None:
    script = RENEWED_WHILE_SERVING.replace(
        "    newest = prepare()\n",
        "    faults.append(1)\n    if len(faults) == 3:\n        raise OSError(28, 'full')\n"
        "    newest = prepare()\n",
    ).replace("held = [prepare()]", "faults = []\nheld = [prepare()]")
    done = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path)], cwd=ROOT,
        env={"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin"},
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.stdout.splitlines()[-1] == "ended", done.stderr
    assert "True True" in done.stdout


@pytest.mark.django_db(transaction=True)
def test_a_renewal_takes_up_a_new_address(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, over_https: None, settings: Any
) -> None:
    """The network may give this computer another address while it serves."""
    settings.NURSERY_DATA = tmp_path
    given = ["192.168.1.20"]
    monkeypatch.setattr(lan_names, "own_address", lambda: given[0])
    plan = serve_plan.serve_plan(host=None, port=None, https_port=None, lan=True, http=False)
    first = serve_plan.https_for(plan.called(), now=datetime.now(UTC))
    renewal = serve_plan.Renewal(plan, first, port=8443, http_port=8000)
    assert not renewal()
    given[0] = "192.168.1.77"
    assert renewal()
    assert not renewal()
    assert "192.168.1.77" in settings.ALLOWED_HOSTS
    at = settings.NURSERY_HTTPS_AT
    assert at.address_for("192.168.1.77") == "https://192.168.1.77:8443"
    assert "192.168.1.20" not in at.hosts
    assert served_at.address_of("batches:today") == "https://192.168.1.77:8443/"
    assert served_at.setup_address() == "http://192.168.1.77:8000/setup/"


@pytest.mark.parametrize(
    ("port", "https_port", "of_this_machine", "taken"),
    [
        (None, None, 0, 8443),
        (9000, None, 0, 9443),
        (9000, None, 443, 443),
        (9000, 8500, 443, 8500),
        (0, None, 0, 0),
    ],
)
def test_the_port_of_https_is_the_one_asked_for_or_lies_443_above(
    settings: Any, port: int | None, https_port: int | None, of_this_machine: int, taken: int
) -> None:
    settings.NURSERY_PORT = 8000
    settings.NURSERY_HTTPS_PORT = of_this_machine
    plan = serve_plan.serve_plan(host=None, port=port, https_port=https_port, lan=True, http=False)
    assert plan.https_port == taken
