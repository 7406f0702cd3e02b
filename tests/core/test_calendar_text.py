"""Are texts escaped and lines folded so that nothing of a name is lost or taken for an order?"""

from __future__ import annotations

from datetime import UTC, date, datetime

from hypothesis import given
from hypothesis import strategies as st

from batches.core.calendar_text import DayEvent, calendar_text, escaped, folded

NOW = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)


def text_of(*events: DayEvent) -> str:
    return calendar_text(events, name="Hollowmere Ferns", now=NOW, refresh_hours=6)


def test_texts_are_escaped_as_published() -> None:
    # RFC 5545, 3.3.11: backslash, semicolon, comma and line break.
    assert escaped("a,b;c\\d\ne\r\nf\rg") == "a\\,b\\;c\\\\d\\ne\\nf\\ng"
    assert escaped("bell\x07") == "bell"


def test_lines_are_folded_at_75_octets_and_unfold_to_what_they_were() -> None:
    # RFC 5545, 3.1: at most 75 octets without the break; a space begins what goes on.
    for line in ("x" * 75, "x" * 76, "é" * 200, "SUMMARY:" + "fern " * 60):
        rows = folded(line).split("\r\n")
        assert all(len(row.encode()) <= 75 for row in rows)
        assert "".join([rows[0], *(row[1:] for row in rows[1:])]) == line
    assert "\r\n" not in folded("x" * 75)


@given(st.text(max_size=300))
def test_no_text_breaks_out_of_its_line(words: str) -> None:
    event = DayEvent(uid="u", on=date(2026, 12, 31), summary=words, description=words)
    rows = text_of(event).split("\r\n")
    assert rows[-1] == ""
    heads = [row.split(":")[0] for row in rows if row and not row.startswith(" ")]
    assert heads.count("BEGIN") == heads.count("END") == 2
    assert heads.count("SUMMARY") == heads.count("DESCRIPTION") == 1


def test_a_day_ends_before_the_next_begins() -> None:
    text = text_of(DayEvent(uid="u", on=date(2026, 12, 31), summary="s", description="d"))
    assert "DTSTART;VALUE=DATE:20261231\r\nDTEND;VALUE=DATE:20270101\r\n" in text
    assert "DTSTAMP:20261124T093000Z\r\n" in text
