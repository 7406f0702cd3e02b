"""How much of a tray's surface is green in a photograph?

A pixel counts as green where ExG − ExR is above zero (excess green less excess red, on the shares
of red, green and blue in the pixel's light). Where green and bare are both plainly there, pixels
along an edge hold some of both and are parted half-way between the two. A second opinion cuts ExG
by Otsu's method, guarded, because Otsu always finds two classes, even on bare peat. Where the two
part, or the light has changed since the last photograph, the share is said not to be comparable.

Moss, liverwort and algae are green too: the share says how green the surface is, not how much of
it is fern. A wet lid must come off first, and the picture must show the tray alone.

Indices: excess green after Woebbecke et al. 1995; ExG − ExR after Meyer and Camargo Neto 2008;
Otsu 1979. Colours are never balanced to grey: a green tray is not grey.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from batches.core.errors import NurseryError
from batches.core.photo_light import (
    FRAME_DIFFERS,
    LIGHT_DIFFERS,
    PhotoLight,
    photo_light,
    why_apart,
)
from batches.core.picture_parts import heart_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

SMALLEST_SIDE = 16
# Second opinion, limits of Otsu's cut: measured on synthetic trays, no source.
FIXED_CUT = 0.10
LOWEST_CUT, HIGHEST_CUT = 0.05, 0.20
LEAST_UPPER_MEAN, LEAST_GAP, LEAST_SEPARABILITY = 0.10, 0.09, 0.60
# Common practice, no source.
OPINIONS_PART = 0.10
DARKEST, MOST_BURNT_OUT = 20.0, 0.25
LEAST_COLOUR = 2.0


class PhotoError(NurseryError):
    """The picture cannot be read for green cover."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GreenCover:
    """The green share of a picture, 0 to 1, and how far it can be trusted.

    ``light`` is what it is compared by with the tray's other pictures, to be kept with it; of two
    pictures alone, hand it over with the next one. ``reason`` is empty where
    ``comparable`` is true.
    """

    share: float
    second_opinion: float
    comparable: bool
    reason: str
    light: PhotoLight


def green_cover(pixels: NDArray[np.uint8], *, last_light: PhotoLight | None = None) -> GreenCover:
    """Measure the green share of a picture.

    Parameters
    ----------
    pixels
        Shape (height, width, 3), red, green and blue from 0 to 255, already cropped to the tray;
        about 800 pixels wide is plenty. Transparency and grey pictures are refused.
    last_light
        ``light`` of the tray's last picture, if there was one.

    Raises
    ------
    PhotoError
        Empty, smaller than 16 × 16, without colour, or not of that form; the text says which.
    """
    import numpy as np

    _refuse_what_is_no_photo(pixels)
    colour = pixels.astype(np.float64)
    total = np.maximum(colour.sum(axis=2), 1.0)
    # ExG − ExR and ExG, both times the pixel's light: linear in the colours, so that a pixel that
    # is half leaf lies half-way. Below, "index" is per unit of light, as published.
    excess = 3.0 * colour[..., 1] - 2.4 * colour[..., 0] - colour[..., 2]
    exg = (3.0 * colour[..., 1] - total) / total
    green = _green_pixels(excess, excess / total, exg)
    share = float(green.mean())
    second = float((exg > _guarded_cut(exg)).mean())
    light = photo_light(pixels, green)
    reason = _why_not_comparable(share, second, pixels, light, last_light)
    return GreenCover(
        share=share, second_opinion=second, comparable=not reason, reason=reason, light=light
    )


def cropped(pixels: NDArray[np.uint8], *, x: int, y: int, w: int, h: int) -> NDArray[np.uint8]:
    """Cut the rectangle whose upper left pixel is (x, y), w wide and h high.

    Raises `PhotoError` where it does not lie wholly inside the picture.
    """
    height, width = pixels.shape[:2]
    inside = x >= 0 and y >= 0 and w > 0 and h > 0 and x + w <= width and y + h <= height
    if not inside:
        raise PhotoError(
            f"The crop {x},{y},{w},{h} does not lie inside the picture, "
            f"which is {width} pixels wide and {height} high."
        )
    return pixels[y : y + h, x : x + w]


def otsu_threshold(values: NDArray[Any], *, bins: int = 256) -> float:
    """Find the cut that parts the values into the two classes with the widest gap (Otsu 1979).

    Whole numbers are parted between whole numbers; others on `bins` equal bins, whose centre is
    returned: values above it are the upper class. A single value is returned as it is.

    Raises `PhotoError` where there are no values.
    """
    import numpy as np

    flat = np.asarray(values).ravel()
    if flat.size == 0:
        raise PhotoError("There is nothing to part: the picture is empty.")
    low, high = flat.min(), flat.max()
    if low == high:
        return float(low)
    if np.issubdtype(flat.dtype, np.integer):
        counts = np.bincount(flat.astype(np.int64) - int(low)).astype(np.float64)
        centres = np.arange(int(low), int(high) + 1, dtype=np.float64)
    else:
        counts_, edges = np.histogram(flat, bins=bins)
        counts = counts_.astype(np.float64)
        centres = (edges[:-1] + edges[1:]) / 2.0
    below = np.cumsum(counts)[:-1]
    above = np.cumsum(counts[::-1])[::-1][1:]
    moment = counts * centres
    mean_below = np.cumsum(moment)[:-1] / below
    mean_above = np.cumsum(moment[::-1])[::-1][1:] / above
    return float(centres[np.argmax(below * above * (mean_below - mean_above) ** 2)])


def _refuse_what_is_no_photo(pixels: NDArray[np.uint8]) -> None:
    if pixels.size == 0:
        raise PhotoError("The picture is empty.")
    if pixels.ndim == 2:
        raise PhotoError("The picture is grey; green cannot be told from it. Take it in colour.")
    if pixels.ndim != 3 or pixels.shape[2] != 3 or pixels.dtype.name != "uint8":
        raise PhotoError("The picture must have red, green and blue from 0 to 255, nothing else.")
    if min(pixels.shape[:2]) < SMALLEST_SIDE:
        height, width = pixels.shape[:2]
        raise PhotoError(
            f"The picture is only {width} × {height} pixels; "
            f"at least {SMALLEST_SIDE} × {SMALLEST_SIDE} are needed."
        )
    spread = pixels.max(axis=2).astype(int) - pixels.min(axis=2)
    if spread.mean() < LEAST_COLOUR:
        raise PhotoError(
            "The picture holds no colour (it is grey, black or white all over); "
            "green cannot be told from it. Take it again in daylight."
        )


def _green_pixels(
    excess: NDArray[np.float64], index: NDArray[np.float64], exg: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Tell for each pixel whether it is green: above zero, edges parted half-way.

    Two classes are sought from zero on (mean against mean, until they stay). The half-way cut
    comes in by degrees: not at all where the greener class is green by neither index, too few, or
    no further from the other than each scatters in itself (bare peat, a wholly green tray).
    """
    import numpy as np

    cut = 0.0
    for _ in range(8):
        green = index > cut
        if not green.any() or green.all():
            return _above_zero(excess)
        cut = (float(index[green].mean()) + float(index[~green].mean())) / 2.0
    leaf, bare = heart_of(green), heart_of(~green)
    leaf_index, bare_index = float(np.median(index[leaf])), float(np.median(index[bare]))
    gap = leaf_index - bare_index
    part = float(green.mean())
    sure = (
        max(_degree(leaf_index, 0.0, 0.08), _degree(float(np.median(exg[leaf])), 0.05, 0.12))
        * _degree(gap, 0.15, 0.30)
        * _degree(gap / max(_scatter(index[leaf]) + _scatter(index[bare]), 1e-6), 1.5, 2.5)
        * _degree(min(part, 1.0 - part), 0.002, 0.01)
    )
    if sure == 0.0:
        return _above_zero(excess)
    half_way = float(np.median(excess[leaf]) + np.median(excess[bare])) / 2.0
    return np.asarray(excess > sure * half_way)


def _above_zero(excess: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Tell where the mean of a pixel and its eight neighbours is above zero.

    With one class only, a pixel on the other side of zero is the camera's grain.
    """
    import numpy as np

    mean = excess
    for axis in (0, 1):
        padded = np.pad(mean, [(1, 1) if a == axis else (0, 0) for a in (0, 1)], mode="edge")
        length = excess.shape[axis]
        windows = [np.take(padded, range(k, length + k), axis=axis) for k in range(3)]
        mean = np.mean(windows, axis=0)
    return np.asarray(mean > 0.0)


def _scatter(values: NDArray[np.float64]) -> float:
    """Half the span that holds the middle two thirds: a standard deviation that bears outliers."""
    import numpy as np

    low, high = np.percentile(values, (16, 84))
    return float(high - low) / 2.0


def _degree(value: float, none: float, full: float) -> float:
    return min(1.0, max(0.0, (value - none) / (full - none)))


def _guarded_cut(exg: NDArray[np.float64]) -> float:
    """Cut ExG by Otsu where it is plain that two classes are there, else at a fixed value."""
    cut = otsu_threshold(exg)
    upper = exg > cut
    part = float(upper.mean())
    if part in (0.0, 1.0):
        return FIXED_CUT
    upper_mean, lower_mean = float(exg[upper].mean()), float(exg[~upper].mean())
    gap = upper_mean - lower_mean
    separability = part * (1 - part) * gap**2 / max(float(exg.var()), 1e-12)
    if upper_mean < LEAST_UPPER_MEAN or gap < LEAST_GAP or separability < LEAST_SEPARABILITY:
        return FIXED_CUT
    return min(max(cut, LOWEST_CUT), HIGHEST_CUT)


def _why_not_comparable(
    share: float,
    second: float,
    pixels: NDArray[np.uint8],
    light: PhotoLight,
    last_light: PhotoLight | None,
) -> str:
    if pixels.mean() < DARKEST:
        return "Too dark to compare; take it again with more light."
    if (pixels.max(axis=2) >= 254).mean() > MOST_BURNT_OUT:
        return "Over-exposed, not comparable; take it again without flash or glare."
    if abs(share - second) > OPINIONS_PART:
        return (
            f"The light differs, not comparable: one reckoning gives {share:.0%} green, "
            f"another {second:.0%}."
        )
    apart = "" if last_light is None else why_apart(light, last_light)
    return {
        "": "",
        LIGHT_DIFFERS: "The light differs from the last picture, not comparable with it.",
        FRAME_DIFFERS: "It is framed otherwise than the last picture, not comparable with it.",
    }[apart]
