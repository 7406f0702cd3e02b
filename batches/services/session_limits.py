"""How long may somebody stay signed in at a desk, and how long does a typed password count?"""

from __future__ import annotations

from datetime import datetime, timedelta

#: from the sign-in on; ASVS 5.0, 7.3.2; the hours themselves: one working day, no source
LONGEST = timedelta(hours=12)
#: without a page opened; ASVS 5.0, 7.3.1; common practice, no source
IDLE = timedelta(hours=2)
#: how often it is written down that a page was opened
SEEN_EVERY = timedelta(minutes=5)
#: how long a password typed counts where it is asked for again; ASVS 5.0, 7.5.1
FRESH = timedelta(minutes=30)


def is_over(*, began: datetime, seen: datetime, now: datetime) -> bool:
    """Say whether a session has ended by now; a clock set back a long way ends it, too."""
    if now < began - SEEN_EVERY:
        return True
    return now - began > LONGEST or now - seen > IDLE


def is_fresh(*, proved: datetime | None, now: datetime) -> bool:
    """Say whether a password was typed lately enough for people, settings and exports."""
    return proved is not None and timedelta() <= now - proved <= FRESH
