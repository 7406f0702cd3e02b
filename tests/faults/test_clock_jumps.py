"""Is nothing lost and no time negative when clocks of tablets and of the computer jump?"""

from __future__ import annotations

import random
import uuid
from datetime import timedelta

import pytest

from batches.models import StageTransition, ToSettle, TrayCheck
from batches.services import standing
from batches.services.overdue import overdue_lines
from batches.services.syncing import Sender, take_items
from tests.factories import NOW, TODAY, DeviceFactory, TrayFactory

pytestmark = [pytest.mark.django_db, pytest.mark.faults]

JUMPS = 30
STAGES = ("", "gametophyte", "first_frond")


def test_thirty_jumps_lose_nothing_and_make_no_time_negative() -> None:
    chance = random.Random(30)
    tray = TrayFactory(counted=500)
    standing.refold(trays=[tray], recorded_at=NOW)
    sender = Sender(device=DeviceFactory())
    sent: set[uuid.UUID] = set()
    for number in range(JUMPS):
        server = NOW + timedelta(days=chance.uniform(-3, 3))  # the computer's own clock
        tablet = server + timedelta(days=chance.choice([0, 0, -2, 2, -400, 400, 30_000]))
        item_id = uuid.UUID(int=chance.getrandbits(128))
        item = {
            "id": str(item_id), "device_seq": number, "kind": "check", "tray": tray.code,
            "by": "Wilf", "stage_seen": chance.choice(STAGES),
            "occurred_at": (tablet - timedelta(minutes=chance.uniform(0, 600))).isoformat(),
        }  # fmt: skip
        body = {"sent_at": tablet.isoformat(), "generation": 1, "items": [item]}
        (answer,) = take_items(body=body, sender=sender, now=server)
        assert answer.status in {"created", "merged", "review"}
        sent.add(item_id)
    kept = set(TrayCheck.objects.values_list("pk", flat=True))
    kept |= set(ToSettle.objects.values_list("pk", flat=True))
    assert sent - kept == set()
    for look in TrayCheck.objects.all():
        # Put right by when it was sent: within a day of the computer's own clock.
        assert look.recorded_at - look.seen_at < timedelta(days=1)
        assert look.seen_at <= look.recorded_at
    for passage in StageTransition.objects.exclude(not_before=None):
        assert passage.not_before <= passage.seen_on
    assert standing.differing() == (1, ())
    for line in overdue_lines(on=TODAY, today=TODAY, now=NOW):
        assert line.days_late >= 0
