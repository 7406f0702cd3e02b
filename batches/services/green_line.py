"""How did the green share of a tray change from photo to photo?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from batches.models import CheckPhoto, Tray
from batches.services.days import day_words, local_day
from batches.services.timeline import WIDTH, span_of, x_of

_TOP, _BOTTOM = 16, 116


@dataclass(frozen=True, slots=True, kw_only=True)
class GreenPoint:
    """One photo: its day, its share (0 to 1), where it stands in the drawing.

    ``comparable`` is false where the light was too different for the share to be held against
    the others.
    """

    on: date
    share: float
    comparable: bool
    x: int
    y: int


@dataclass(frozen=True, slots=True, kw_only=True)
class GreenLine:
    """The drawing under the line of time, on the same axis; `path` joins comparable photos."""

    width: int
    points: tuple[GreenPoint, ...]
    path: str
    sentence: str


def green_line(*, tray: Tray, today: date) -> GreenLine | None:
    """Return a tray's green share over time, from looks that stand; None without a reckoned photo.

    One query.
    """
    rows = (
        CheckPhoto.objects.filter(
            check_row__tray=tray, check_row__struck_by__isnull=True, green_share__isnull=False
        )
        .order_by("check_row__seen_at", "id")
        .values_list("check_row__seen_at", "green_share", "comparable")
    )
    first, last = span_of(tray, today=today)
    points = tuple(
        GreenPoint(
            on=local_day(seen_at),
            share=share or 0.0,
            comparable=bool(comparable),
            x=x_of(local_day(seen_at), first=first, last=last),
            y=round(_BOTTOM - (share or 0.0) * (_BOTTOM - _TOP)),
        )
        for seen_at, share, comparable in rows
    )
    if not points:
        return None
    sure = [point for point in points if point.comparable]
    return GreenLine(
        width=WIDTH,
        points=points,
        path=" ".join(f"{point.x},{point.y}" for point in sure) if len(sure) > 1 else "",
        sentence=_sentence(sure),
    )


def _sentence(sure: list[GreenPoint]) -> str:
    if not sure:
        return "The light differs too much in these photos to compare them."
    last = sure[-1]
    if len(sure) == 1:
        return f"{100 * last.share:.0f} % of the surface was green on {day_words(last.on)}."
    first = sure[0]
    return (
        f"The green share went from {100 * first.share:.0f} % on {day_words(first.on)} to "
        f"{100 * last.share:.0f} % on {day_words(last.on)}, over {len(sure)} photos that compare."
    )
