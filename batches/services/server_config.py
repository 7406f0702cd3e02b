"""How long may a connection say nothing, and with which certificate does it speak https?"""

from __future__ import annotations

from pathlib import Path
from ssl import SSLContext

from hypercorn.config import Config

# A connection that sends nothing is dropped after this many seconds. An answer may take as long,
# because a browser that waits for one sends nothing either.
READ_TIMEOUT_S = 120
# Between two requests, and before the first.
IDLE_TIMEOUT_S = 5
# A connection for https that does not begin to speak it is dropped after this many seconds.
HANDSHAKE_S = 20
# How long the server waits for open connections when it is told to stop.
GRACE_S = 3


class ServerConfig(Config):
    """The settings of the server; a new certificate may be loaded while it serves."""

    context: SSLContext | None = None

    def create_ssl_context(self) -> SSLContext | None:
        """Make what https speaks with, and keep it at hand."""
        self.context = super().create_ssl_context()
        return self.context

    def load_certificate_again(self) -> None:
        """Serve connections that begin from now on with what stands in the certificate's file."""
        if self.context is not None and self.certfile is not None:
            self.context.load_cert_chain(self.certfile, self.keyfile)


def server_config(
    *, bind: list[str], insecure_bind: list[str], max_body: int, certificate: Path | None = None
) -> ServerConfig:
    """Give the settings of the server that concern its connections.

    With a ``certificate`` (a file that holds its key, too) ``bind`` speaks https and
    ``insecure_bind`` http; without one ``bind`` speaks http.
    """
    config = ServerConfig()
    config.bind = bind
    config.insecure_bind = insecure_bind
    if certificate is not None:
        config.certfile = config.keyfile = str(certificate)
        config.alpn_protocols = ["http/1.1"]  # what all the limits here are tested with
    config.wsgi_max_body_size = max_body
    config.read_timeout = READ_TIMEOUT_S
    config.keep_alive_timeout = IDLE_TIMEOUT_S
    config.ssl_handshake_timeout = HANDSHAKE_S
    config.graceful_timeout = GRACE_S
    config.include_server_header = False
    config.accesslog = None
    config.loglevel = "WARNING"
    config.backlog = 256
    return config
