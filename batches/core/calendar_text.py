"""How is a calendar written, so that any calendar program reads it?

RFC 5545: lines end in CR LF and are folded at 75 octets, commas, semicolons, backslashes and line
breaks in texts are escaped, all-day events end on the day after, which is not part of them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

_OCTETS = 75
_PRODUCT = "-//Frondbook//Fern nursery//EN"


@dataclass(frozen=True, slots=True, kw_only=True)
class DayEvent:
    """Something of one whole day; ``uid`` is the same each time the same thing is written."""

    uid: str
    on: date
    summary: str
    description: str
    url: str = ""


def calendar_text(
    events: Iterable[DayEvent], *, name: str, now: datetime, refresh_hours: int
) -> str:
    """Return the calendar; ``now`` stamps every event."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        f"PRODID:{_PRODUCT}",
        "CALSCALE:GREGORIAN",
        "METHOD:PUBLISH",
        # RFC 7986 (5.1, 5.7), and what older programs read in their place.
        f"NAME:{escaped(name)}",
        f"X-WR-CALNAME:{escaped(name)}",
        f"REFRESH-INTERVAL;VALUE=DURATION:PT{refresh_hours}H",
        f"X-PUBLISHED-TTL:PT{refresh_hours}H",
    ]
    stamp = f"{now.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    for event in events:
        lines += [
            "BEGIN:VEVENT",
            f"UID:{escaped(event.uid)}",
            f"DTSTAMP:{stamp}",
            f"DTSTART;VALUE=DATE:{event.on:%Y%m%d}",
            f"DTEND;VALUE=DATE:{event.on + timedelta(days=1):%Y%m%d}",
            f"SUMMARY:{escaped(event.summary)}",
            f"DESCRIPTION:{escaped(event.description)}",
            *([f"URL:{event.url}"] if event.url else []),
            "TRANSP:TRANSPARENT",
            "END:VEVENT",
        ]
    lines.append("END:VCALENDAR")
    return "".join(f"{folded(line)}\r\n" for line in lines)


def escaped(text: str) -> str:
    """Return a text as a value of type TEXT (RFC 5545, 3.3.11); control characters are dropped."""
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    plain = "".join(one for one in plain if one == "\n" or one >= " ")
    for sign in ("\\", ";", ","):
        plain = plain.replace(sign, f"\\{sign}")
    return plain.replace("\n", "\\n")


def folded(line: str) -> str:
    """Return a content line folded at 75 octets, never within a character (RFC 5545, 3.1)."""
    pieces, current, room = [], "", _OCTETS
    for character in line:
        if len((current + character).encode()) > room:
            pieces.append(current)
            current, room = "", _OCTETS - 1
        current += character
    return "\r\n ".join([*pieces, current])
