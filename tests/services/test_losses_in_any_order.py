"""Losses, counts and pickings of one tray that do not fit together: does any order end alike?"""

from __future__ import annotations

from datetime import timedelta
from itertools import permutations
from typing import Any
from uuid import UUID, uuid5

import pytest
from django.db import transaction
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from batches.models import PlantMovement, ToSettle, Tray
from batches.services.standing import differing, refold
from batches.services.stock_book import book_of
from batches.services.syncing import Sender, take_items
from tests.factories import NOW, DeviceFactory, LaidOutTrayFactory, TrayFactory

pytestmark = pytest.mark.django_db
SPACE = UUID("f0b6b1a4-4a55-4d35-9a6c-6a0d0c7a3c11")

LOOKS = st.fixed_dictionaries(
    {"kind": st.just("check"), "hours": st.integers(1, 60)},
    optional={"losses": st.sampled_from([1, 4, 7]), "count": st.integers(0, 12)},
)
PICKINGS = st.fixed_dictionaries(
    {"kind": st.just("prick_out"), "hours": st.integers(1, 60), "quantity": st.sampled_from([1, 5])}
)


def item(number: int, tray: str, child: str, said: dict[str, Any]) -> dict[str, Any]:
    """What a tablet sends of it."""
    at = NOW - timedelta(hours=said["hours"])
    sent = {
        "id": str(uuid5(SPACE, str(number))), "device_seq": number, "kind": said["kind"],
        "tray": tray, "by": "Bryn Hale", "occurred_at": at.isoformat(),
    }  # fmt: skip
    if said["kind"] == "prick_out":
        return sent | {
            "quantity": said["quantity"],
            "trays": [{"code": child, "quantity": said["quantity"]}],
        }
    sent["signs"] = ["dry"]
    if "losses" in said:
        sent["losses"] = [{"quantity": said["losses"], "cause": "rot"}]
    return sent | ({"count": said["count"]} if "count" in said else {})


@settings(
    max_examples=16, deadline=None, derandomize=True,
    phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
)  # fmt: skip
@given(
    looks=st.lists(LOOKS, min_size=1, max_size=3),
    pickings=st.lists(PICKINGS, max_size=1),
)
def test_any_order_of_arrival_ends_alike(looks, pickings) -> None:
    with transaction.atomic():
        mat = TrayFactory(counted=10)
        child = LaidOutTrayFactory(batch=mat.batch).code
        refold(trays=[mat], recorded_at=NOW)
        tablet = Sender(device=DeviceFactory(name="fern frame"))
        made = [
            item(number, mat.code, child, said) for number, said in enumerate([*looks, *pickings])
        ]
        ends = {}
        start = transaction.savepoint()
        for arrival in permutations(made):
            for one in arrival:
                body = {"sent_at": NOW.isoformat(), "items": [one]}
                (answer,) = take_items(body=body, sender=tablet, now=NOW)
                assert answer.status in {"created", "review"}, answer
                (again,) = take_items(body=body, sender=tablet, now=NOW)
                assert again.status in {"duplicate", "review"}, again
            assert differing()[1] == ()
            ends[tuple(one["device_seq"] for one in arrival)] = _state(mat)
            transaction.savepoint_rollback(start)
            start = transaction.savepoint()
        assert len(set(ends.values())) == 1, ends
        transaction.set_rollback(True)


def _state(mat: Tray) -> tuple[Any, ...]:
    """What stands in the book, and what waits."""
    mat.refresh_from_db()
    assert mat.alive == book_of(mat).alive
    standing = PlantMovement.objects.standing().order_by("on", "kind", "quantity")
    return (
        mat.alive,
        tuple(standing.exclude(kind="in").values_list("on", "kind", "quantity")),
        tuple(sorted(str(pk) for pk in ToSettle.objects.open().values_list("pk", flat=True))),
    )
