"""Were photographs of one tray taken in the same light, and do they show the same piece of it?

Told from what is not green, which stays the same peat from month to month: its colour and
brightness in the whole picture, and along the rim, where a bench or a label comes into a picture
that was taken from farther away. The limits are common practice, no source. A nearer picture of a
part of the tray looks like the whole and cannot be told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from batches.core.picture_parts import heart_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Colour = tuple[float, float, float]

COLOUR_SHIFT, BRIGHTNESS_FACTOR = 0.04, 2.0
#: along the rim a hand or a shadow matters more, and a lit side more than in the whole
RIM_COLOUR_SHIFT, RIM_BRIGHTNESS_FACTOR = 0.06, 1.6
#: the rim is so much of each side; sides of 4 to 3 and 3 to 2 still count as one shape
RIM, SHAPES_PART = 0.08, 1.15
#: less bare surface than this says nothing of the light
LEAST_BARE = 0.05

LIGHT_DIFFERS = "the light differs from that of the others"
FRAME_DIFFERS = "it shows more, or another piece, of the bench than the others"


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoLight:
    """What two photographs of a tray are compared by.

    ``bare`` and ``rim`` are the mean red, green and blue (0 to 255) of what is not green, in the
    whole picture and along its rim; None where nearly all is green. ``shape`` is the longer side
    by the shorter.
    """

    bare: Colour | None
    rim: Colour | None
    shape: float


def photo_light(pixels: NDArray[np.uint8], green: NDArray[np.bool_]) -> PhotoLight:
    """Return what a picture is compared by; (height, width, 3) and (height, width)."""
    import numpy as np

    height, width = green.shape
    rim = np.ones(green.shape, dtype=bool)
    down, across = max(1, round(RIM * height)), max(1, round(RIM * width))
    rim[down : height - down, across : width - across] = False
    bare = heart_of(~green)
    return PhotoLight(
        bare=_mean_of(pixels, bare, of=green.size),
        rim=_mean_of(pixels, bare & rim, of=int(rim.sum())),
        shape=max(width, height) / min(width, height),
    )


def why_apart(one: PhotoLight, other: PhotoLight) -> str:
    """Return why two photographs are not to be compared; empty where they are."""
    if max(one.shape, other.shape) / min(one.shape, other.shape) > SHAPES_PART:
        return FRAME_DIFFERS
    rims = _rim_by_whole(one), _rim_by_whole(other)
    if _parted(*rims, shift=RIM_COLOUR_SHIFT, factor=RIM_BRIGHTNESS_FACTOR):
        return FRAME_DIFFERS
    bare = one.bare, other.bare
    return LIGHT_DIFFERS if _parted(*bare, shift=COLOUR_SHIFT, factor=BRIGHTNESS_FACTOR) else ""


def apart_from_the_others(photos: Sequence[PhotoLight]) -> tuple[str, ...]:
    """Return, for each photograph of a tray, why it does not compare with most of them.

    The measure is the one that compares with the most others, the latest of several such;
    ``photos`` ascend by time. Those with an empty reason compare.
    """
    if not photos:
        return ()
    agreeing = [sum(not why_apart(one, other) for other in photos) for one in photos]
    most = max(agreeing)
    measure = photos[max(place for place, count in enumerate(agreeing) if count == most)]
    return tuple(why_apart(measure, one) for one in photos)


def _mean_of(pixels: NDArray[np.uint8], part: NDArray[np.bool_], *, of: int) -> Colour | None:
    if part.sum() < LEAST_BARE * of:
        return None
    red, green, blue = pixels[part].mean(axis=0)
    return float(red), float(green), float(blue)


def _rim_by_whole(photo: PhotoLight) -> Colour | None:
    """Return how the rim parts from the whole in red, green and blue; wet or dry is no matter."""
    if photo.bare is None or photo.rim is None:
        return None
    red, green, blue = (
        rim / max(bare, 1.0) for rim, bare in zip(photo.rim, photo.bare, strict=True)
    )
    return red, green, blue


def _parted(now: Colour | None, last: Colour | None, *, shift: float, factor: float) -> bool:
    """Tell whether two colours part by more than allowed; one that is not known parts from none."""
    if now is None or last is None:
        return False
    sum_now, sum_last = max(sum(now), 1e-3), max(sum(last), 1e-3)
    colour = max(abs(a / sum_now - b / sum_last) for a, b in zip(now, last, strict=True))
    return colour > shift or max(sum_now / sum_last, sum_last / sum_now) > factor
