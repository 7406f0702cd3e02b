"""How long must somebody wait after wrong passwords?

Nobody is locked out for good: five wrong ones in a row cost half a minute, and every further one
twice as long, up to a quarter of an hour. It is counted by the name that was tried and by the
device it was tried from; a device is allowed more, because several people share it. A one-time
link always stays open.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from batches.core.errors import NurseryError
from batches.models import FailedSignIn

FREE_TRIES = {"name": 5, "device": 20}
FIRST_WAIT_S = 30
LONGEST_WAIT_S = 15 * 60
REMEMBERED = timedelta(hours=1)


class WaitFirst(NurseryError):
    """Too many wrong tries; `seconds` says how long to wait."""

    def __init__(self, *, seconds: int, way: str = "ask a manager for a one-time link") -> None:
        wait = f"{seconds} seconds" if seconds < 120 else f"{round(seconds / 60)} minutes"
        super().__init__(f"Too many wrong tries. Wait {wait}, or {way}. Nothing was changed.")
        self.seconds = seconds


def _keys(*, name: str, device: str) -> dict[str, str]:
    return {"name": f"name:{name.strip().lower()}"[:120], "device": f"device:{device}"[:120]}


def seconds_to_wait(*, name: str, device: str, now: datetime) -> int:
    """Give the seconds until the next try is heard; 0 where it may come now (two queries)."""
    longest = 0
    for kind, key in _keys(name=name, device=device).items():
        tries = FailedSignIn.objects.filter(who=key, at__gt=now - REMEMBERED).order_by("-at")
        times = list(tries.values_list("at", flat=True)[:60])
        over = len(times) - FREE_TRIES[kind]
        if over >= 0:
            wait = min(FIRST_WAIT_S * 2 ** min(over, 10), LONGEST_WAIT_S)
            left = times[0] + timedelta(seconds=wait) - now
            longest = max(longest, int(left.total_seconds()) + 1)
    return longest


def refuse_if_too_many(
    *, name: str, device: str, now: datetime, way: str = "ask a manager for a one-time link"
) -> None:
    """Let a try through, or say how long to wait, and which other ``way`` is open.

    Raises
    ------
    WaitFirst
        Too many wrong tries lie behind.
    """
    seconds = seconds_to_wait(name=name, device=device, now=now)
    if seconds > 0:
        raise WaitFirst(seconds=seconds, way=way)


def note_wrong(*, name: str, device: str, now: datetime) -> None:
    """Count a wrong try, and forget those that no longer matter."""
    FailedSignIn.objects.filter(at__lt=now - REMEMBERED).delete()
    FailedSignIn.objects.bulk_create(
        FailedSignIn(who=key, at=now) for key in _keys(name=name, device=device).values()
    )


def forget(*, name: str) -> None:
    """Forget the wrong tries under a name, after a right one."""
    FailedSignIn.objects.filter(who=_keys(name=name, device="")["name"]).delete()
