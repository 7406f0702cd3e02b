"""Which ferns may not cross a border without papers?

A reminder, not the list: the authority and the Appendices in force decide. Sources: CITES Prop.
11.8 (the listings of *Cyathea* with its segregates, of American *Dicksonia*, of *Cibotium
barometz*) and later printed Appendices; what is marked so below is from memory.
"""

from __future__ import annotations

#: genera of Appendix II whole, with those that are counted in Cyathea (CITES Prop. 11.8)
LISTED_GENERA = frozenset({"Cyathea", "Alsophila", "Nephelea", "Sphaeropteris", "Trichipteris"})
#: species listed alone (CITES Prop. 11.8)
LISTED_SPECIES = frozenset({("Cibotium", "barometz")})
#: Dicksonia: only populations of the Americas are listed; these come from Australia, New Zealand
#: and the islands near them and are not (the first three: growers' pages and the listing's text;
#: the others from memory)
DICKSONIA_ELSEWHERE = frozenset(
    {"antarctica", "fibrosa", "squarrosa", "lanata", "youngiae", "berteriana", "thyrsopteroides"}
)
_ASK = "it needs papers across a border, also raised here; the authority decides"


def cites_note(*, genus: str, species: str) -> str:
    """Return the reminder for a fern of CITES Appendix II; empty for one not known to be listed."""
    if genus in LISTED_GENERA or (genus, species) in LISTED_SPECIES:
        return f"CITES Appendix II: {_ASK}. Spores may be exempt."
    if genus == "Dicksonia" and species not in DICKSONIA_ELSEWHERE:
        return f"CITES Appendix II where it comes from the Americas: {_ASK}."
    return ""


def protection_words(*, genus: str, species: str, noted: str) -> str:
    """Return what the nursery noted, and the reminder where that names no CITES; or nothing."""
    own = noted.strip().rstrip(".")
    reminder = cites_note(genus=genus, species=species)
    if own and (not reminder or "cites" in own.casefold()):
        return f"{own}. Papers may be needed where it leaves; the authority decides."
    return f"{own}. {reminder}" if own else reminder
