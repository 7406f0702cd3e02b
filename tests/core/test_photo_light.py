"""Are photographs of a tray in another light, or of another piece of the bench, told apart?"""

from __future__ import annotations

import numpy as np
import pytest

from batches.core.cover import green_cover
from batches.core.photo_light import (
    FRAME_DIFFERS,
    LIGHT_DIFFERS,
    PhotoLight,
    apart_from_the_others,
    why_apart,
)
from tests.simulate.photos import CASTS, SCENES, photo

SHARES = (0.0, 0.05, 0.25, 0.6, 0.9, 1.0)
PEAT = (84.0, 66.0, 50.0)


def kept(bare=PEAT, rim=PEAT, shape=4 / 3) -> PhotoLight:
    return PhotoLight(bare=bare, rim=rim, shape=shape)


def taken(scene, share, seed=1) -> PhotoLight:
    return green_cover(photo(scene, share, seed=seed)).light


@pytest.mark.parametrize("scene", SCENES, ids=lambda scene: scene.name)
def test_growth_is_no_change_of_light(scene):
    lights = [taken(scene, share, seed) for seed, share in enumerate(SHARES)]
    assert apart_from_the_others(lights) == ("",) * len(SHARES)


@pytest.mark.parametrize("scene", CASTS[1:], ids=lambda scene: scene.name)
def test_a_lamp_is_told_among_pictures_by_day(scene):
    by_day = [taken(SCENES[0], share, seed) for seed, share in enumerate((0.1, 0.2, 0.4))]
    assert apart_from_the_others([*by_day, taken(scene, 0.5)]) == ("", "", "", LIGHT_DIFFERS)
    # It is the odd one that is set aside, not those after it.
    assert apart_from_the_others([taken(scene, 0.1), *by_day]) == (LIGHT_DIFFERS, "", "", "")


def test_a_picture_with_the_bench_round_the_tray_does_not_compare():
    near = photo(SCENES[0], 0.4, seed=3)
    wide = np.full((near.shape[0] + 80, near.shape[1] + 107, 3), (200, 190, 170), dtype=np.uint8)
    wide[40:-40, 53:-54] = near
    assert why_apart(green_cover(near).light, green_cover(wide).light)
    assert why_apart(kept(), kept(rim=(160.0, 150.0, 140.0))) == FRAME_DIFFERS


def test_a_picture_of_another_shape_does_not_compare_and_a_turned_one_does():
    near = photo(SCENES[0], 0.3, seed=3)
    square = green_cover(np.ascontiguousarray(near[:, :240])).light
    turned = green_cover(np.ascontiguousarray(near.transpose(1, 0, 2))).light
    assert why_apart(green_cover(near).light, square) == FRAME_DIFFERS
    assert why_apart(green_cover(near).light, turned) == ""
    assert green_cover(near, last_light=square).reason.startswith("It is framed otherwise")


def test_wet_and_dry_peat_compare_and_night_and_day_do_not():
    wet = tuple(0.58 * part for part in PEAT)
    dark = tuple(0.3 * part for part in PEAT)
    assert why_apart(kept(), kept(bare=wet, rim=wet)) == ""
    assert why_apart(kept(), kept(bare=dark, rim=dark)) == LIGHT_DIFFERS


def test_what_is_green_all_over_says_nothing_of_the_light():
    assert why_apart(kept(), kept(bare=None, rim=None)) == ""


def test_of_two_that_part_the_later_is_the_measure_and_none_need_none():
    lamp = (84.0, 50.0, 66.0)
    two = (kept(), kept(bare=lamp, rim=lamp))
    assert apart_from_the_others(two) == (LIGHT_DIFFERS, "")
    assert apart_from_the_others(()) == ()
