"""Which tablets stand at the benches, what do they still hold, and which has gone silent?

A tablet in a drawer with looks that were never sent is how records get lost: whoever is silent
with something on it for half a day, or silent at all for three days, is named to the manager.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from batches.models import Device

#: silent with something to send, and silent with nothing known to wait; common practice, no source
SILENT_HOLDING = timedelta(hours=12)
SILENT = timedelta(days=3)


@dataclass(frozen=True, slots=True, kw_only=True)
class TabletState:
    """A tablet, when it last called and whether somebody should go and look for it."""

    device: Device
    last_contact: datetime
    silent: bool

    @property
    def holds(self) -> str:
        """What it said it still has to send: “3 looks and 1 photo”; empty for nothing."""
        parts = []
        if self.device.waiting:
            parts.append(f"{self.device.waiting} look{'s' if self.device.waiting > 1 else ''}")
        if self.device.photos_waiting:
            many = self.device.photos_waiting
            parts.append(f"{many} photo{'s' if many > 1 else ''}")
        return " and ".join(parts)


def tablets(*, now: datetime) -> tuple[TabletState, ...]:
    """Return the enrolled tablets, silent ones first, then by name; one query."""
    found = [_state(device, now) for device in Device.objects.enrolled()]
    return tuple(sorted(found, key=lambda one: (not one.silent, one.device.name)))


def silent_tablets(*, now: datetime) -> tuple[TabletState, ...]:
    """Return the tablets that somebody should go and look for; one query."""
    return tuple(one for one in tablets(now=now) if one.silent)


def revoked_tablets() -> list[Device]:
    """Return the tablets that were revoked, the latest first."""
    return list(Device.objects.revoked().order_by("-revoked_at"))


def _state(device: Device, now: datetime) -> TabletState:
    last = device.last_seen_at or device.enrolled_at
    holding = device.waiting > 0 or device.photos_waiting > 0
    silent = now - last >= (SILENT_HOLDING if holding else SILENT)
    return TabletState(device=device, last_contact=last, silent=silent)
