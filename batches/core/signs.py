"""Which troubles may a look find, and for which causes are plants lost?"""

from __future__ import annotations

from enum import StrEnum


class Sign(StrEnum):
    """A trouble seen at a look, or heart shapes."""

    MOULD = "mould"
    ALGAE = "algae"
    MOSS_LIVERWORT = "moss_liverwort"
    SCIARIDS = "sciarids"
    SLUGS = "slugs"
    VINE_WEEVIL = "vine_weevil"
    APHID = "aphid"
    SCALE = "scale"
    LEAF_EELWORM = "leaf_eelworm"
    ROT = "rot"
    FROST = "frost"
    SCORCH = "scorch"
    DRY = "dry"
    WATERLOGGED = "waterlogged"
    OVERCROWDED = "overcrowded"
    ROGUE_FERN = "rogue_fern"
    YELLOWING = "yellowing"
    HEART_SHAPES = "heart_shapes"


#: everything of `Sign` that is a trouble
TROUBLES = frozenset(Sign) - {Sign.HEART_SHAPES}
#: troubles that shorten the look interval while the last look showed them
PRESSING_SIGNS = frozenset({Sign.MOULD, Sign.DRY})

SIGN_WORDS: dict[Sign, str] = {sign: sign.value.replace("_", " ") for sign in Sign} | {
    Sign.MOSS_LIVERWORT: "moss or liverwort",
    Sign.ROGUE_FERN: "rogue fern",
}

#: why plants were lost, or a tray ended: a sign or one of these
OTHER_CAUSES = ("no_germination", "damaged", "surplus", "past_its_best", "unknown")
CAUSES: tuple[str, ...] = (*(str(s) for s in Sign if s in TROUBLES), *OTHER_CAUSES)
CAUSE_WORDS: dict[str, str] = {cause: cause.replace("_", " ") for cause in CAUSES} | {
    str(sign): word for sign, word in SIGN_WORDS.items() if sign in TROUBLES
}
