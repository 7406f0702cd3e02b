"""Whose work is a line of Today or of this week?"""

from __future__ import annotations

from datetime import date

from batches.core.errors import NotUnderstood
from batches.models import Person, WorkShare


def give_line(*, line: str, on: date, person: Person | None, by: str) -> WorkShare | None:
    """Give a line to a person for a day; None takes it back. The last word holds."""
    if not line or len(line) > 80:
        raise NotUnderstood("This line cannot be given to anybody.")
    if person is None:
        WorkShare.objects.filter(line=line, on=on).delete()
        return None
    share, _ = WorkShare.objects.update_or_create(
        line=line, on=on, defaults={"person": person, "given_by": by}
    )
    return share


def shares_of_day(*, on: date) -> dict[str, str]:
    """Return whose each given line is, by the line's key; one query."""
    rows = WorkShare.objects.filter(on=on).values_list("line", "person__name")
    return dict(rows)


def people_to_give_to() -> list[Person]:
    """Return the people at work, by name."""
    return list(Person.objects.filter(is_active=True))
