"""Who may strike out what? A manager anything, others their own while it is fresh.

Looks that tablets send are struck out by tablets as they come: a name tapped there is not proved,
and every strike-out is noted.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from batches.models import Person

#: what one wrote oneself can be struck out for so long
OWN_FOR = timedelta(hours=24)


def may_strike(*, person: Person, by: str, recorded_at: datetime, now: datetime) -> bool:
    """Say whether a person may strike out a row that ``by`` wrote and that was stored then."""
    own = by == person.get_username() and now - recorded_at <= OWN_FOR
    return own or person.role == "manager"
