"""Is our cut that of Otsu (1979) as another program reckons it? (cross-implementation)"""

from __future__ import annotations

import numpy as np
import pytest
from skimage.filters import threshold_otsu

from batches.core.cover import otsu_threshold
from tests.simulate.photos import SCENES, photo


@pytest.mark.parametrize("seed", range(5))
def test_the_cut_of_whole_numbers_equals_that_of_scikit_image(seed):
    """Cross-implementation: scikit-image, filters.threshold_otsu."""
    green = photo(SCENES[seed], 0.1 + 0.18 * seed, seed=seed)[..., 1]
    assert otsu_threshold(green) == threshold_otsu(green)


@pytest.mark.parametrize("seed", range(5))
def test_the_cut_of_an_index_equals_that_of_scikit_image(seed):
    """Cross-implementation, on the excess green index with the same 256 bins."""
    colour = photo(SCENES[seed], 0.15 + 0.15 * seed, seed=seed).astype(float)
    total = np.maximum(colour.sum(axis=2), 1.0)
    index = (3 * colour[..., 1] - total) / total
    assert otsu_threshold(index, bins=256) == pytest.approx(threshold_otsu(index, nbins=256))
