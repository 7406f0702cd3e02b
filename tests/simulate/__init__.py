"""A nursery with known truth, grown from a seed: see `tests.simulate.nursery.simulate`."""

from __future__ import annotations
