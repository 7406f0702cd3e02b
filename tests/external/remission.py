"""Weeks of remission: 6-MP and placebo arms, 21 patients each; "+" where it still lasted.

*published*: Freireich et al. (1963), Blood 21, 699-716; values from memory, and equal to those
that several statistics packages carry.
"""

from __future__ import annotations


def read(text: str) -> list[tuple[float, bool]]:
    return [(float(t.rstrip("+")), not t.endswith("+")) for t in text.split()]


SIX_MP = read("6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+")
PLACEBO = read("1 1 2 2 3 4 4 5 5 8 8 8 8 11 11 12 12 15 17 22 23")
