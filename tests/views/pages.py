"""How does a test open a page, and what does it send?"""

from __future__ import annotations

import uuid

from django.test import Client
from django.urls import reverse


def page(client: Client, name: str, *args: object, **query: str) -> str:
    """Open a page that has to be there and return its text."""
    answer = client.get(reverse(f"batches:{name}", args=args), query)
    assert answer.status_code == 200, answer.status_code
    return answer.content.decode()


def filled(**fields: object) -> dict[str, str]:
    """Return a form as a browser sends it, with an id of its own; None leaves a field out."""
    given = {"record_id": uuid.uuid4()} | fields
    return {name: str(value) for name, value in given.items() if value is not None}
