"""Names as the codes of nomenclature write them.

*published*: International Code of Nomenclature for algae, fungi, and plants (Shenzhen Code, 2018:
hybrid sign, ranks) and International Code of Nomenclature for Cultivated Plants (9th edition,
2016: single quotes, Group). Rows marked so are *from memory* of these codes; italics follow
*common practice* of botanical journals.
"""

from __future__ import annotations

import pytest

from batches.core.names import BadName, botanical_name, fern_code

NAMES = [
    # species: genus with a capital, both italic (common practice)
    ({"genus": "dryopteris", "species": "filix-mas"},
     "Dryopteris filix-mas", "<i>Dryopteris filix-mas</i>"),
    # infraspecific rank roman (ICN; from memory)
    ({"genus": "Asplenium", "species": "scolopendrium", "infra_rank": "var",
      "infra_epithet": "americanum"},
     "Asplenium scolopendrium var. americanum",
     "<i>Asplenium scolopendrium</i> var. <i>americanum</i>"),
    ({"genus": "Athyrium", "species": "filix-femina", "infra_rank": "ssp.",
      "infra_epithet": "Cyclosorum"},
     "Athyrium filix-femina subsp. cyclosorum",
     "<i>Athyrium filix-femina</i> subsp. <i>cyclosorum</i>"),
    # cultivar: single quotes, roman, never "cv." (ICNCP)
    ({"genus": "Polystichum", "species": "setiferum", "cultivar": "cv. Plumosomultilobum"},
     "Polystichum setiferum 'Plumosomultilobum'",
     "<i>Polystichum setiferum</i> \u2018Plumosomultilobum\u2019"),
    ({"genus": "Polystichum", "species": "setiferum", "cultivar": '"Herrenhausen"',
      "group": "(Divisilobum)"},
     "Polystichum setiferum (Divisilobum Group) 'Herrenhausen'",
     "<i>Polystichum setiferum</i> (Divisilobum Group) \u2018Herrenhausen\u2019"),
    # Group without cultivar: no quotes, no brackets needed (from memory)
    ({"genus": "Dryopteris", "species": "affinis", "group": "Cristata gp"},
     "Dryopteris affinis Cristata Group", "<i>Dryopteris affinis</i> Cristata Group"),
    # hybrid: U+00D7, roman, no space before the epithet (ICN); a typed x is read
    ({"genus": "Polystichum", "species": "x dycei"},
     "Polystichum \u00d7dycei", "<i>Polystichum</i> \u00d7<i>dycei</i>"),
    ({"genus": "Polystichum", "species": "dycei", "hybrid": "species"},
     "Polystichum \u00d7dycei", "<i>Polystichum</i> \u00d7<i>dycei</i>"),
    # hybrid formula: spaces round the sign (ICN)
    ({"genus": "Dryopteris", "species": "affinis X filix-mas"},
     "Dryopteris affinis \u00d7 filix-mas",
     "<i>Dryopteris affinis</i> \u00d7 <i>filix-mas</i>"),
    # hybrid genus
    ({"genus": "\u00d7 Asplenoceterach", "species": "badense"},
     "\u00d7Asplenoceterach badense", "\u00d7<i>Asplenoceterach badense</i>"),
    ({"genus": "Xanthoria", "species": ""}, "Xanthoria", "<i>Xanthoria</i>"),
]  # fmt: skip


@pytest.mark.parametrize(("parts", "text", "html"), NAMES)
def test_a_name_is_set_as_the_codes_write_it(parts, text, html):
    name = botanical_name(**parts)
    assert (name.text, name.html) == (text, html)
    assert "".join(run.text for run in name.runs) == text


def test_a_cultivar_is_never_italic_and_never_in_double_quotes():
    name = botanical_name(genus="Dryopteris", species="affinis", cultivar="\u201cCristata\u201d")
    assert [run.italic for run in name.runs if "Cristata" in run.text] == [False]
    assert '"' not in name.text


def test_markup_in_a_name_is_text():
    name = botanical_name(genus="Dryopteris", species="<script>", cultivar="<b>x</b>")
    assert "<script>" not in name.html
    assert "&lt;b&gt;" in name.html


@pytest.mark.parametrize(
    ("parts", "field"),
    [
        ({"genus": ""}, "genus"),
        ({"genus": "Dryopteris", "infra_rank": "clone", "infra_epithet": "x"}, "infra_rank"),
        ({"genus": "Dryopteris", "infra_rank": "var."}, "infra_epithet"),
        ({"genus": "Dryopteris", "hybrid": "family"}, "hybrid"),
    ],
)
def test_parts_that_make_no_name_are_refused(parts, field):
    with pytest.raises(BadName) as refused:
        botanical_name(**parts)
    assert refused.value.field == field


def test_the_short_code_is_three_letters_of_genus_and_species_and_of_the_cultivar():
    osmunda = botanical_name(genus="Osmunda", species="regalis")
    assert fern_code(osmunda) == "OSMREG"
    cristata = botanical_name(genus="Dryopteris", species="affinis", cultivar="Cristata")
    assert fern_code(cristata) == "DRYAFF-CRI"
    assert fern_code(cristata, taken=frozenset({"DRYAFF-CRI"})) == "DRYAFF-CRI2"
