"""What do the invented people of a nursery write beside a look, and what are they called?

All names of people, firms and places are made up.
"""

from __future__ import annotations

PEOPLE = (
    "Orla Fennick",
    "Bram Tolley",
    "Sunniva Dask",
    "Idris Quillan",
    "Petra Lowmoor",
    "Wim Harrowby",
)
CUSTOMERS = (
    "Thrushgill Garden",
    "Pellow and Daughters",
    "Market stall, Ashlinn Bridge",
    "Walled garden at Corriemoss",
    "Mossend Plant Yard",
    "Rillside Landscapes",
    "Dunnoch Woodland Trust",
    "Counter sale",
)
SUPPLIERS = ("Tarnhow Young Plants", "Skerrawick Fern Exchange", "Lowthwaite Liners")

# What is noted when nothing much is to be seen, by stage.
QUIET: dict[str, tuple[str, ...]] = {
    "sown": (
        "Film beaded, surface still bare.",
        "Nothing yet. Turned round so the window side faces north.",
        "Sealed tight, no drips on the mix.",
        "Bare, but evenly damp. Leave alone.",
        "Held it to the light: a green haze? Not sure enough to write it down.",
        "Bag had slipped, pulled straight.",
        "No smell, no web. Good.",
        "Mix has gone a shade paler at one corner, stood in water 15 min.",
        "Still nothing, the one beside it is ahead.",
        "Lens: a few split spores, nothing to see by eye.",
    ),
    "gametophyte": (
        "Green all over, thin in the near corner.",
        "Felt of prothalli, lid wet. Nothing wanted.",
        "Getting thick in the middle.",
        "Misted once with boiled rain water, shut again.",
        "Hearts the size of a lentil.",
        "No fronds, looked with the lens along two rows.",
        "Colour good. A bit long in the leg where the neighbour shades it.",
        "Condensation gone on the south side, resealed with tape.",
        "Looks like lumpy moss but it is not, no leafy shoots.",
        "Patchy: dense left, bare right. Shaken unevenly at sowing, I think.",
        "A few brown at the rim, not spreading.",
    ),
    "first_frond": (
        "First fronds a finger-nail high.",
        "Fronds all over the left half.",
        "Strongest have two true fronds, the rest follow.",
        "Half-strength feed given from below.",
        "Lid ajar for an hour, no wilting.",
        "Big enough to take by the clump next week.",
        "Uneven, but plenty there.",
        "Some curl in the sun yesterday, fleece over.",
    ),
    "pegged_down": (
        "Pins holding, frond flat on the mix.",
        "Bulbils swelling along the rachis.",
        "Frond browning as it should, bulbils green.",
        "Two pins had lifted, pressed back.",
        "Damp, covered, left.",
        "Tiny croziers at the base, no pull yet.",
    ),
    "rooted": (
        "Pulled three, all hold.",
        "White roots a centimetre long.",
        "Ready to lift the far end first.",
        "Old frond rotted away, plantlets stand by themselves.",
    ),
    "divided": (
        "Sitting tight, no new growth.",
        "One bud moving.",
        "Kept shaded, old leaves hang a little.",
    ),
    "rooted_in": ("New roots at the rim.", "Growing away.", "Croziers up on most pieces."),
    "pricked_out": (
        "Settled, no flagging.",
        "Gaps in row 3, filled from the spare strip.",
        "Roots at the bottom of the cells.",
        "Watered from below, tray weight good.",
        "A touch soft after the warm days.",
        "Even stand, could go on to pots in a fortnight.",
        "Cover half open by day.",
        "Cover off for good since Monday.",
        "Small ones sorted to the near end.",
        "Moss starting on three cells, picked off.",
        "Fed at half strength.",
        "Two cells dry at the edge, the rest fine.",
    ),
    "potted_up": (
        "Rooting to the side.",
        "Even, spaced out to every second place.",
        "New croziers coming.",
        "Tips a bit pale, fed.",
        "Weeded. Bittercress from next door.",
        "Stood down from the shelf, drier there than one thinks.",
        "Pot-bound soon, wants selling or potting on.",
        "Old fronds cut back.",
        "Shaded, the glass was washed last week.",
        "Outside row smaller, turned.",
    ),
    "ready": (
        "Looks well, fills the pot.",
        "Labels in, could go any day.",
        "Tidied for the lorry.",
        "Kept six back for the stand.",
        "Best of the house at the moment.",
        "Getting leggy, put to the front of the list.",
    ),
}

# What is noted beside a trouble.
TROUBLED: dict[str, tuple[str, ...]] = {
    "mould": (
        "Grey web in the near corner, lifted out with a good margin.",
        "Web back where I took the patch out. Lid ajar two hours a day.",
        "White fluff on the chaff that was sown with it.",
        "Spreading from the edge, size of a coin. Tray set apart.",
        "Mould again. If it is back on Thursday it goes.",
        "Patch dried up after airing, keep looking.",
    ),
    "algae": (
        "Slimy black-green along the rim.",
        "Algae under the drips, loosened with a fork.",
        "Too wet, stood on slats to drain.",
    ),
    "moss_liverwort": (
        "Liverwort with cups, three bits out.",
        "Leafy moss shoots among the hearts, picked what I could.",
        "Moss on half of it.",
    ),
    "sciarids": (
        "Flies up when the lid came off, trap put in.",
        "Yellow trap: 14 since Friday.",
        "Grazed spots, larvae under the lens.",
    ),
    "slugs": (
        "Trail across the film, found him.",
        "Rasped edges on five.",
        "Two slugs under the rim.",
    ),
    "vine_weevil": (
        "Pot fell over, no roots: grubs.",
        "Notched fronds, tipped out two pots, grubs in one.",
    ),
    "aphid": ("Aphid in the croziers, rubbed off.", "Greenfly on the soft growth by the door."),
    "scale": ("Scale along the midribs of two.",),
    "leaf_eelworm": ("Brown wedges between the veins, sharp edges. Bagged and put apart.",),
    "rot": (
        "Crowns gone soft in the wet corner.",
        "Three collapsed at the collar.",
        "Brown at soil level.",
    ),
    "frost": ("Blackened tips on the door side.", "Caught by the frost, crowns sound."),
    "scorch": ("Bleached on the south side, shading was still up.", "Scorched in one afternoon."),
    "dry": (
        "Tape had come off, surface pale. Stood in water.",
        "Light as a feather, watered from below.",
        "Prothalli curling, film not beaded.",
    ),
    "waterlogged": ("Standing in water, mat blocked.", "Drip from the gutter joint right above."),
    "overcrowded": ("Solid mat, no fronds. Wants patching out.", "Like a doormat, hearts on edge."),
    "rogue_fern": (
        "Two fronds that are none of ours, look like buckler.",
        "Stray among them, pulled and kept in a bag to compare.",
    ),
    "yellowing": ("Yellow at the older fronds.", "Pale all over, feed?"),
    "heart_shapes": (
        "First hearts under the lens.",
        "Proper hearts now.",
        "Hearts, about two millimetres.",
    ),
}

GLANCES = (
    "",
    "",
    "",
    "Bench looked over before watering.",
    "Walked the bench, all shut and beaded.",
    "Late round, nothing stood out.",
)
WRONG_TRAY = (
    "First fronds up!",
    "Fronds on the whole left side.",
    "Looks ready to go.",
)
ENDINGS: dict[str, tuple[str, ...]] = {
    "no_germination": (
        "Given up. Bare to the last.",
        "Nothing in all this time, mix reused for paths.",
        "Second look with Orla, not a spot of green. Tipped.",
    ),
    "mould": (
        "Gone over to mould from rim to rim. Bagged and binned.",
        "Mould won. Tipped outside.",
    ),
    "dry": (
        "Found bone dry after the long weekend. Lost.",
        "Dried out behind the others. My fault.",
    ),
    "damaged": ("Dropped at the door.", "Blown off the trolley.", "Cat."),
    "surplus": ("More than we can house.", "Enough of these, space wanted."),
    "past_its_best": ("Gone woody, not worth the pots.", "Stood too long."),
    "overcrowded": ("Choked itself, rotten underneath.",),
    "algae": ("All slime, nothing to save.",),
    "moss_liverwort": ("Moss only by now.",),
    "sciarids": ("Grazed bare.",),
    "slugs": ("Eaten down to the mix over Christmas.",),
    "rot": ("Rotted from the middle.",),
    "vine_weevil": ("Grubs in every pot, tipped and burnt.",),
    "frost": ("Frozen through by the door.",),
    "rogue_fern": ("Strays all through, cannot vouch for one of them.",),
    "scorch": ("Cooked behind the glass in one afternoon.",),
    "leaf_eelworm": ("Wedges in every frond. Burnt, bench scrubbed.",),
    "aphid": ("Crippled by aphid, not worth the room.",),
    "scale": ("Scale on all of them, burnt.",),
    "waterlogged": ("Drowned under the gutter joint.",),
    "yellowing": ("Yellow and dwindling, given up.",),
    "unknown": ("Dwindled, no idea why.", "Just stopped."),
}
