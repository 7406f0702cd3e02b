"""How near does the green share come to the true one, and does it say when it cannot be trusted?"""

from __future__ import annotations

import numpy as np
import pytest

from batches.core.cover import PhotoError, cropped, green_cover, otsu_threshold
from tests.simulate.photos import CASTS, SCENES, photo

SHARES = (0.0, 0.05, 0.25, 0.6, 0.95)


@pytest.mark.parametrize("scene", SCENES, ids=lambda scene: scene.name)
def test_bare_peat_reads_under_one_in_a_hundred(scene):
    for seed in range(2):
        assert green_cover(photo(scene, 0.0, seed=seed)).share <= 0.01


def test_the_share_is_near_the_true_one_on_average():
    away = [
        abs(green_cover(photo(scene, share, seed=1)).share - share)
        for scene in SCENES
        for share in SHARES
    ]
    assert np.mean(away) <= 0.04


@pytest.mark.parametrize("scene", [SCENES[0], SCENES[1], SCENES[6]], ids=lambda scene: scene.name)
def test_more_green_never_reads_as_less(scene):
    found = [green_cover(photo(scene, step / 10, seed=3)).share for step in range(11)]
    assert found == sorted(found)


@pytest.mark.parametrize("scene", CASTS, ids=lambda scene: scene.name)
def test_a_strong_cast_is_never_believed_and_wrong(scene):
    for share in SHARES:
        plain = green_cover(photo(SCENES[0], share, seed=2))
        cast = green_cover(photo(scene, share, seed=2), last_light=plain.light)
        assert not cast.comparable or abs(cast.share - share) <= 0.10
        assert cast.comparable == (cast.reason == "")


def test_a_dark_or_burnt_out_picture_says_so():
    picture = photo(SCENES[0], 0.4, seed=5)
    dark = green_cover((picture * 0.1).astype(np.uint8))
    assert (dark.comparable, "dark" in dark.reason) == (False, True)
    burnt = picture.copy()
    burnt[:120] = (255, 255, 250)
    assert "exposed" in green_cover(burnt).reason


@pytest.mark.parametrize(
    ("pixels", "words"),
    [
        (np.zeros((0, 0, 3), np.uint8), "empty"),
        (np.zeros((40, 40), np.uint8), "grey"),
        (np.zeros((40, 40, 4), np.uint8), "red, green and blue"),
        (np.zeros((8, 40, 3), np.uint8), "at least 16"),
        (np.full((40, 40, 3), 90, np.uint8), "no colour"),
        (np.zeros((40, 40, 3), np.float64), "0 to 255"),
    ],
)
def test_what_is_no_photo_is_refused_in_words(pixels, words):
    with pytest.raises(PhotoError, match=words):
        green_cover(pixels)


def test_a_crop_lies_inside_or_is_refused():
    picture = photo(SCENES[0], 0.4, seed=5)
    assert cropped(picture, x=10, y=20, w=30, h=40).shape == (40, 30, 3)
    for wrong in ({"x": -1}, {"x": 300}, {"w": 0}, {"h": 900}):
        with pytest.raises(PhotoError, match="does not lie inside"):
            cropped(picture, **({"x": 0, "y": 0, "w": 50, "h": 50} | wrong))


def naive_otsu(values: list[int]) -> int:
    """Second implementation, from the definition: the cut with the widest gap, weighted."""
    best, at = -1.0, min(values)
    for cut in sorted(set(values))[:-1]:
        low = [v for v in values if v <= cut]
        high = [v for v in values if v > cut]
        gap = sum(high) / len(high) - sum(low) / len(low)
        score = len(low) * len(high) * gap * gap
        if score > best * (1 + 1e-12):
            best, at = score, cut
    return at


@pytest.mark.parametrize("seed", range(6))
def test_otsu_parts_where_the_definition_does(seed):
    rng = np.random.default_rng(seed)
    values = np.concatenate([rng.normal(70, 12, 300), rng.normal(150, 20, 90 + 40 * seed)])
    whole = np.clip(values, 0, 255).astype(np.int64)
    assert otsu_threshold(whole) == naive_otsu(whole.tolist())


def test_otsu_of_one_value_and_of_none():
    assert otsu_threshold(np.array([7, 7, 7])) == 7
    with pytest.raises(PhotoError, match="nothing to part"):
        otsu_threshold(np.array([]))
