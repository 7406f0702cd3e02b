"""What do the words of the trade mean here?

One line each, for whoever is new at the bench. Meanings are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class TradeWord:
    """A word, what it means, and the glyph that goes with it (empty for none)."""

    word: str
    text: str
    glyph: str = ""

    @property
    def anchor(self) -> str:
        """What an address behind `#` calls it."""
        return "".join(sign if sign.isalnum() else "-" for sign in self.word.lower())


@dataclass(frozen=True, slots=True, kw_only=True)
class WordGroup:
    """Words that belong together."""

    title: str
    words: tuple[TradeWord, ...]


def _words(*rows: tuple[str, ...]) -> tuple[TradeWord, ...]:
    return tuple(
        TradeWord(word=row[0], text=row[1], glyph=row[2] if len(row) > 2 else "") for row in rows
    )


WORD_GROUPS: tuple[WordGroup, ...] = (
    WordGroup(
        title="The plant",
        words=_words(
            ("fern", "A plant as botany names it: species, variety, hybrid or cultivar."),
            ("spores", "The dust under a frond from which ferns are raised; no seed, no flower."),
            ("green spores", ("Spores that are green when ripe. They live days to weeks: sow at "
             "once.")),
            ("sori", "The small heaps on the underside of a frond in which spores ripen."),
            ("indusium", ("The thin lid over a sorus; it lifts or shrivels when the spores are "
             "ripe.")),
            ("prothalli (gametophyte)", ("The flat green growth that comes from spores: first a "
             "film, later heart shapes. Ferns grow out of it after a film of water let it "
             "fertilise."), "gametophyte"),
            ("heart shapes", ("Full-grown prothalli, about as large as a fingernail. A sign on a "
             "look, not a stage.")),
            ("frond", "The leaf of a fern; it unrolls from a crozier."),
            ("bulbil", "A small plant that forms on a frond; pegged down, it roots.",
             "pegged_down"),
            ("crown", "The growing point from which the fronds rise."),
            ("cultivar", ("A selected form with a name of its own, in single quotes. Raised from "
             "spores it may not come true.")),
            ("tree fern", "A fern with a trunk. Slower in every stage; some are listed by CITES."),
        ),
    ),
    WordGroup(
        title="From spores to pots",
        words=_words(
            ("origin", ("Where material came from: a stock plant, several plants pooled, a wild "
             "place, an exchange, a purchase.")),
            ("stock plant", ("A plant kept to be collected or divided from; it has a label and a "
             "place.")),
            ("lot", "One collection of spores: one fern, one origin, one day."),
            ("sow by", "The day until which a lot's spores can be expected to come up."),
            ("batch", "What was started together, from one origin, by one route."),
            ("raised from", "The route: spores, bulbils, division, or bought in."),
            ("tray", ("Anything that stands on a bench and carries one label: a covered tray, a "
             "cell tray, a carrier of pots.")),
            ("sown", "Spores lie on moist medium under a lid.", "sown"),
            ("pegged down", "Fronds with bulbils lie pinned on moist medium.", "pegged_down"),
            ("rooted", "The bulbils hold when one tugs gently.", "rooted"),
            ("lifted", "Rooted bulbils taken up and set singly; it counts as pricked out."),
            ("divided", "A crown or rhizome was cut into pieces.", "divided"),
            ("rooted in", "A division makes new growth.", "rooted_in"),
            ("patch out", ("Set patches of prothalli into fresh medium before fronds come. Makes "
             "new trays; changes no stage.")),
            ("first frond", "The first true frond stands in the mat: one can soon pick.",
             "first_frond"),
            ("pricked out", "Young ferns were taken out of the mat and set into cells.",
             "pricked_out"),
            ("mat", "The dense growth in a sown tray. It is picked more than once."),
            ("potted up", "Young ferns were set from cells into their first pots.", "potted_up"),
            ("pot on", "Set them into a bigger pot. Changes no stage."),
            ("ready", "Pots fit to be sold.", "ready"),
            ("rest", ("The weeks in which a fern stands still. It is not late then, and does not "
             "age."), "resting"),
            ("rogue fern", ("Another fern than the label says. Its lot and sister trays are "
             "flagged at once.")),
            ("control", "A tray that was covered unsown. If it turns green, stray spores fly.",
             "control"),
            ("isolated", "Kept apart from the others because of a trouble.", "isolated"),
        ),
    ),
    WordGroup(
        title="At the bench",
        words=_words(
            ("look", "Somebody looked closely at a tray. “Nothing new” is a look, too."),
            ("glance", ("A bench looked over as a whole. It satisfies the look that was due; it "
             "proves no stage.")),
            ("the round", ("The looks of a day in walking order: clean covered trays first, "
             "isolated ones last.")),
            ("trouble", "Something wrong that was seen: mould, algae, sciarids, dry and so on.",
             "trouble"),
            ("sciarids", "Small dark flies whose larvae graze prothalli and roots."),
            ("leaf eelworm", "Tiny worms in fronds; brown patches between the veins."),
            ("lid", "The cover of a tray: closed, vented or off. Weaning is to lift it by steps."),
            ("green share", "How much of a tray is green, reckoned from a photo."),
            ("cleared", "Everything moved on; the tray ended."),
            ("thrown out", "The tray ended with a loss and its cause."),
            ("struck out", "Taken back by a later row. Both stay readable; nothing is deleted."),
        ),
    ),
    WordGroup(
        title="Counts and numbers",
        words=_words(
            ("stock book", ("Every change of a tray's count: in, lost, moved, sent off. It "
             "balances.")),
            ("stock-take", "Counting what is there; the difference is written down as such."),
            ("uncounted", "Alive, but nobody counted. It is no zero."),
            ("patch", ("A piece of the mat with several young ferns; what a sown tray is counted "
             "in.")),
            ("due", "It is time, by the usual interval.", "due"),
            ("late", "Longer in a stage than nine in ten trays of this fern took here.", "late"),
            ("low, likely, high", ("Nine in ten times it is more than low, as often more as less "
             "than likely, and one in ten times more than high.")),
            ("came up", "The share of spores that germinated in a counted sample."),
            ("to send, to settle", ("Noted at a bench without network, and still to be sent; or "
             "sent, and a manager has to decide.")),
            ("plant passport", ("The label that plant health law asks for when plants are moved "
             "to other firms or sent to buyers.")),
            ("provenance", ("How near to the wild: wild, raised from wild material, not of wild "
             "origin, not known.")),
        ),
    ),
)  # fmt: skip
