"""How safe are the records: how old is the last good copy, here and on a stick?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from batches.models import Tray
from batches.services import copies, upkeep_notes
from batches.services.copies import TOO_OLD, Copy
from batches.services.upkeep_notes import CHECKUP, COPY, DRILL, STICK, Noted

#: what the words begin with that the look at this machine found, and that is told here by itself
_COPIES = "copies of everything"


@dataclass(frozen=True, slots=True, kw_only=True)
class Safekeeping:
    """The copies in the data folder, newest first, and what is known of sticks and drills.

    ``late`` and ``stick_late`` say that the last good copy is older than three days, or missing
    in a nursery that has trays.
    """

    copies: tuple[Copy, ...]
    before: tuple[Copy, ...]
    last_try: Noted | None
    stick: Noted | None
    drill: Noted | None
    late: bool
    stick_late: bool

    @property
    def newest(self) -> Copy | None:
        """The last good copy in the data folder; None where there is none."""
        return self.copies[0] if self.copies else None


def safekeeping(*, data: Path, now: datetime) -> Safekeeping:
    """Return all that is known of copies (four queries, one folder)."""
    folder = data / copies.FOLDER
    made = copies.copies_in(folder)
    before = copies.copies_in(folder, stem=copies.BEFORE_IMPORT) + copies.copies_in(
        folder, stem=copies.BEFORE_UPDATE
    )
    stick = upkeep_notes.noted(STICK)
    worth = Tray.objects.exists()
    return Safekeeping(
        copies=made,
        before=tuple(sorted(before, key=lambda one: one.made_at, reverse=True)),
        last_try=upkeep_notes.noted(COPY),
        stick=stick,
        drill=upkeep_notes.noted(DRILL),
        late=worth and (not made or now - made[0].made_at > TOO_OLD),
        stick_late=worth and (stick is None or not stick.ok or now - stick.at > TOO_OLD),
    )


def alarms(*, data: Path, now: datetime) -> tuple[str, ...]:
    """Return what the manager is told first thing in the morning; nothing where all is well."""
    kept = safekeeping(data=data, now=now)
    found = []
    if kept.newest is None and kept.late:
        found.append("There is no copy of the records yet.")
    elif kept.newest is not None and kept.late:
        days = (now - kept.newest.made_at).days
        found.append(f"The last good copy of the records is {days} days old.")
    if kept.last_try is not None and not kept.last_try.ok:
        found.append(kept.last_try.words)
    if kept.stick is not None and kept.stick_late:
        days = (now - kept.stick.at).days
        found.append(kept.stick.words if not kept.stick.ok else
                     f"The last copy on a stick is {days} days old.")  # fmt: skip
    if kept.drill is not None and not kept.drill.ok:
        found.append(f"The newest copy could not be restored: {kept.drill.words}")
    looked = upkeep_notes.noted(CHECKUP)
    if looked is not None and not looked.ok:
        found += [line for line in looked.words.split("\n") if not line.startswith(_COPIES)]
    return tuple(found)
