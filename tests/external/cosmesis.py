"""The breast cosmesis data: months to retraction, (left, right], "-" where not seen.

*published*: Finkelstein and Wolfe (1985), Biometrics 41, 933-945; the values as the R package
`interval` carries them (facts, read from there). Two treatments, 46 and 48 patients.
"""

from __future__ import annotations

from batches.core.intervals import StageInterval

RADIATION = """
0,5 0,7 0,8 4,11 5,11 5,12 6,10 7,14 7,16 11,15 11,18 15,- 17,25 17,25 17,- 18,- 19,26 19,35 22,-
24,- 24,- 25,37 26,40 27,34 32,- 33,- 34,- 36,44 36,48 36,- 36,- 37,44 37,- 37,- 37,- 38,- 40,-
45,- 46,- 46,- 46,- 46,- 46,- 46,- 46,- 46,-
"""

WITH_CHEMOTHERAPY = """
0,5 0,22 4,8 4,9 5,8 8,12 8,21 10,17 10,35 11,13 11,17 11,20 11,- 11,- 12,20 13,39 13,- 13,- 13,-
14,17 14,19 15,22 16,20 16,24 16,24 16,60 17,23 17,26 17,27 18,24 18,25 19,32 21,- 22,32 23,-
24,30 24,31 30,34 30,36 31,- 32,- 33,40 34,- 34,- 35,39 35,- 44,48 48,-
"""


def rows(arm: str) -> list[StageInterval]:
    """Return one arm as rows."""
    found = []
    for pair in arm.split():
        left, right = pair.split(",")
        if right == "-":
            found.append(StageInterval(left=float(left), ending="waiting"))
        else:
            found.append(StageInterval(left=float(left), right=float(right), ending="seen"))
    return found
