"""Photographs of trays with a known share of green.

Patches of prothalli on peat: smooth noise cut at the quantile that gives the share exactly, leaf
and peat colours with grain, a lit side, then the lens (soft focus), the lamp (a gain on each
channel), sensor noise and JPEG with halved colour. Colours are *from memory*: dark brown peat,
mid to yellow green; nobody measured them.
"""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageFilter

Pixels = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """How a photograph is taken; gains are factors on red, green and blue."""

    name: str
    gains: tuple[float, float, float] = (1.0, 1.0, 1.0)
    peat: tuple[float, float, float] = (84.0, 66.0, 50.0)
    green: tuple[float, float, float] = (88.0, 128.0, 52.0)
    grit: float = 0.0
    glare: float = 0.0
    soft: float = 1.2
    grain: float = 4.0
    patch: float = 9.0
    quality: int = 85


SCENES = (
    Scene(name="neutral"),
    Scene(name="wet peat", peat=(48.0, 39.0, 31.0), glare=0.01),
    Scene(name="thin yellow-green", green=(118.0, 136.0, 66.0)),
    Scene(name="deep green", green=(52.0, 92.0, 38.0)),
    Scene(name="grit", grit=0.05),
    Scene(name="glare", glare=0.04),
    Scene(name="warm", gains=(1.12, 1.0, 0.82)),
    Scene(name="cool", gains=(0.92, 1.0, 1.12)),
    Scene(name="soft", soft=2.5),
    Scene(name="fine patches", patch=4.0),
    Scene(name="coarse patches", patch=20.0),
    Scene(name="grainy", grain=10.0, quality=70),
)
CASTS = (
    Scene(name="green cast", gains=(0.94, 1.08, 0.94)),
    Scene(name="magenta lamp", gains=(1.15, 0.86, 1.12)),
    Scene(name="very warm", gains=(1.25, 1.0, 0.62)),
)


def photo(scene: Scene, share: float, *, seed: int, size: tuple[int, int] = (240, 320)) -> Pixels:
    """Take the photograph: (height, width, 3), with `share` (0 to 1) of its pixels green.

    The same seed puts the patches where they were, so a larger share covers a smaller one.
    """
    rng = np.random.default_rng(seed)
    field = _smooth(rng, size, scene.patch) + 0.35 * _smooth(rng, size, scene.patch / 3)
    covered = np.zeros(size, dtype=bool)
    covered.flat[np.argsort(-field, axis=None)[: round(share * field.size)]] = True

    peat_light = 1 + 0.18 * _smooth(rng, size, 1.5) + 0.08 * _smooth(rng, size, 8)
    leaf_light = 1 + 0.12 * _smooth(rng, size, 2.5) + 0.10 * _smooth(rng, size, 12)
    yellow = 0.06 * _smooth(rng, size, 10)
    peat = np.array(scene.peat) * peat_light[..., None]
    leaf = np.array(scene.green) * leaf_light[..., None]
    leaf[..., 0] *= 1 + yellow
    image = np.where(covered[..., None], leaf, peat)
    if scene.grit:
        specks = _smooth(rng, size, 1.6) > _upper(scene.grit)
        image = np.where((specks & ~covered)[..., None], (196.0, 194.0, 186.0), image)
    if scene.glare:
        shine = np.clip(_smooth(rng, size, 3.0) - _upper(scene.glare), 0, None)
        image = image + 260.0 * np.minimum(shine, 0.8)[..., None]
    image *= np.linspace(0.86, 1.12, size[1])[None, :, None]
    image = image * np.array(scene.gains)
    return _developed(image, scene, rng)


def _developed(image: NDArray[np.float64], scene: Scene, rng: np.random.Generator) -> Pixels:
    flat = Image.fromarray(np.clip(image, 0, 255).astype(np.uint8))
    soft = np.asarray(flat.filter(ImageFilter.GaussianBlur(scene.soft)), dtype=float)
    noisy = soft + rng.normal(0, scene.grain, soft.shape)
    held = io.BytesIO()
    Image.fromarray(np.clip(noisy, 0, 255).astype(np.uint8)).save(
        held, "JPEG", quality=scene.quality, subsampling=2
    )
    held.seek(0)
    return np.asarray(Image.open(held).convert("RGB"))


def _smooth(rng: np.random.Generator, size: tuple[int, int], radius: float) -> NDArray[np.float64]:
    """Noise of mean 0 and deviation 1, alike over about `radius` pixels; by the spectrum."""
    noise = np.fft.rfft2(rng.normal(size=size))
    across = np.fft.rfftfreq(size[1])[None, :]
    down = np.fft.fftfreq(size[0])[:, None]
    kept = np.exp(-2 * (np.pi * radius) ** 2 * (across**2 + down**2))
    field = np.fft.irfft2(noise * kept, s=size)
    return np.asarray((field - field.mean()) / field.std())


def _upper(share: float) -> float:
    """Give the deviation above which about `share` of a normal field lies."""
    from statistics import NormalDist

    return NormalDist().inv_cdf(1 - share)
