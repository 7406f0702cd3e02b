"""How did the green share of a tray change from photo to photo?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from batches.core.photo_light import PhotoLight, apart_from_the_others
from batches.models import CheckPhoto, Tray
from batches.services.days import day_words, local_day
from batches.services.timeline import WIDTH, span_of, x_of

_TOP, _BOTTOM = 16, 116
#: of a photo that cannot be trusted in itself
UNSURE = "too dark, too bright or of a strange colour"


@dataclass(frozen=True, slots=True, kw_only=True)
class GreenPoint:
    """One photo: its day, its share (0 to 1), where it stands in the drawing.

    ``apart`` says why it cannot be held against the tray's other photos; empty where it can.
    """

    on: date
    share: float
    apart: str
    x: int
    y: int

    @property
    def comparable(self) -> bool:
        """Whether it is held against the others."""
        return not self.apart


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
        .values_list("check_row__seen_at", "green_share", "comparable", "light")
    )
    apart = _apart([(bool(comparable), light) for _, _, comparable, light in rows])
    first, last = span_of(tray, today=today)
    points = tuple(
        GreenPoint(
            on=local_day(seen_at),
            share=share or 0.0,
            apart=why,
            x=x_of(local_day(seen_at), first=first, last=last),
            y=round(_BOTTOM - (share or 0.0) * (_BOTTOM - _TOP)),
        )
        for (seen_at, share, _, _), why in zip(rows, apart, strict=True)
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


def _apart(photos: list[tuple[bool, dict[str, Any] | None]]) -> list[str]:
    """Return why photos do not compare: in themselves, or with most of those that could.

    A photo of which nothing is kept but its share is judged in itself alone.
    """
    lights = [
        _light_of(light) if comparable and light is not None else None
        for comparable, light in photos
    ]
    reasons = iter(apart_from_the_others([light for light in lights if light is not None]))
    return [
        next(reasons) if light is not None else "" if comparable else UNSURE
        for (comparable, _), light in zip(photos, lights, strict=True)
    ]


def _light_of(kept: dict[str, Any]) -> PhotoLight:
    bare, rim = kept["bare"], kept["rim"]
    return PhotoLight(
        bare=None if bare is None else (bare[0], bare[1], bare[2]),
        rim=None if rim is None else (rim[0], rim[1], rim[2]),
        shape=kept["shape"],
    )


def _sentence(sure: list[GreenPoint]) -> str:
    if not sure:
        return "These photos are too dark, too bright or of too strange a colour to compare them."
    last = sure[-1]
    if len(sure) == 1:
        return f"{100 * last.share:.0f} % of the surface was green on {day_words(last.on)}."
    first = sure[0]
    return (
        f"The green share went from {100 * first.share:.0f} % on {day_words(first.on)} to "
        f"{100 * last.share:.0f} % on {day_words(last.on)}, over {len(sure)} photos that compare."
    )
