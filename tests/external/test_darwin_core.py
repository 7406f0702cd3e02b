"""Is every column of the export a term of Darwin Core, and its archive described as asked?

*published: TDWG, Darwin Core, the horizontal template of the occurrence core (tdwg/dwc,
dist/dwc_occurrence_core_horizontal.csv, 2025)*: the term names below. *published: TDWG, Darwin Core
text guide*: the elements of meta.xml. Values of basisOfRecord: class names of Darwin Core.
"""

from __future__ import annotations

import csv
import io
import json
import re
import xml.etree.ElementTree as ET
import zipfile

import pytest
from django.urls import reverse

from batches.services.darwin_core import FILE, NAMESPACE, TERMS
from tests.factories import BatchFactory, SourceFactory, SporeLotFactory, TaxonFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]
#: record level, occurrence, material entity, event, location and taxon terms of that template
_TERMS = """
type modified language license rightsHolder accessRights bibliographicCitation references
institutionID collectionID datasetID institutionCode collectionCode datasetName
ownerInstitutionCode basisOfRecord informationWithheld dataGeneralizations dynamicProperties
occurrenceID recordedBy recordedByID individualCount organismQuantity organismQuantityType sex
lifeStage reproductiveCondition caste behavior vitality establishmentMeans degreeOfEstablishment
pathway substrate occurrenceStatus associatedMedia associatedOccurrences associatedReferences
associatedTaxa occurrenceRemarks materialEntityID digitalSpecimenID catalogNumber
otherCatalogNumbers recordNumber objectQuantity objectQuantityType preparations disposition
verbatimLabel associatedSequences materialEntityRemarks organismID organismScope organismName
associatedOrganisms previousIdentifications organismRemarks eventID parentEventID eventType
fieldNumber eventDate eventTime startDayOfYear endDayOfYear year month day verbatimEventDate
habitat samplingProtocol fieldNotes eventRemarks locationID higherGeography continent country
countryCode stateProvince county municipality locality verbatimLocality decimalLatitude
decimalLongitude geodeticDatum coordinateUncertaintyInMeters taxonID scientificNameID
scientificName acceptedNameUsage higherClassification kingdom phylum class order family
subfamily genus genericName subgenus specificEpithet infraspecificEpithet cultivarEpithet
taxonRank verbatimTaxonRank scientificNameAuthorship vernacularName nomenclaturalCode
taxonomicStatus nomenclaturalStatus taxonRemarks
"""
PUBLISHED = frozenset(_TERMS.split())
#: classes of Darwin Core that basisOfRecord may name (published: the definition of the term)
BASES = {
    "PreservedSpecimen", "FossilSpecimen", "LivingSpecimen", "MaterialSample", "Event",
    "HumanObservation", "MachineObservation", "Taxon", "Occurrence", "MaterialCitation",
}  # fmt: skip
XML = "{http://rs.tdwg.org/dwc/text/}"


@pytest.fixture
def nursery():
    tree = TaxonFactory(genus="Cyathea", species="medullaris", code="CYAMED")
    crest = TaxonFactory(
        genus="Dryopteris", species="affinis", cultivar="Crispa", infra_rank="subsp.",
        infra_epithet="borreri", common_name="=scaly fern", code="DRYAFF-CRI",
    )  # fmt: skip
    wild = SourceFactory(kind="wild", provenance="W", locality="Hag Wood", taxon=tree)
    open_ = SourceFactory(kind="wild", provenance="W", locality="Peat bank", taxon=crest)
    mother = SourceFactory(kind="pooled", provenance="G", mothers="A1, B2", taxon=crest)
    lot = SporeLotFactory(source=open_, taxon=crest, collected_by="Wim Harrowby")
    BatchFactory(spore_lot=lot, taxon=crest)
    BatchFactory(spore_lot=SporeLotFactory(source=wild, taxon=tree), taxon=tree)
    BatchFactory(spore_lot=None, source=mother, taxon=crest, route="division")
    return {"wild": wild.code, "open": open_.code, "mother": mother.code, "lot": lot.code}


def table(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def exported(client) -> list[dict[str, str]]:
    answer = client.get(reverse("batches:darwin-core-csv"))
    return table(answer.content.decode())


def test_every_column_is_a_published_term():
    assert set(TERMS) - PUBLISHED == set()
    assert len(TERMS) == len(set(TERMS))
    assert NAMESPACE == "http://rs.tdwg.org/dwc/terms/"


def test_rows_hold_values_that_the_terms_allow(office, nursery):
    rows = exported(office)
    assert len(rows) == 3 + 2 + 3
    ids = [row["occurrenceID"] for row in rows]
    assert len(ids) == len(set(ids))
    for row in rows:
        assert row["basisOfRecord"] in BASES
        assert row["degreeOfEstablishment"] in {"", "cultivated"}
        assert row["nomenclaturalCode"] in {"ICN", "ICNCP"}
        # ISO 8601-1, as the definition of eventDate recommends.
        assert re.fullmatch(r"(\d{4}-\d\d-\d\d)?", row["eventDate"])
        assert set(json.loads(row["dynamicProperties"])) == {
            "itf2Provenance", "itf2PropagationHistory",
        }  # fmt: skip


def test_names_stand_in_parts(office, nursery):
    row = next(r for r in exported(office) if r["occurrenceID"] == f"lot:{nursery['lot']}")
    assert (row["genus"], row["specificEpithet"], row["infraspecificEpithet"]) == (
        "Dryopteris", "affinis", "borreri",
    )  # fmt: skip
    assert (row["cultivarEpithet"], row["taxonRank"]) == ("Crispa", "cultivar")
    assert row["recordedBy"] == "Wim Harrowby"
    assert row["locality"] == "Peat bank"
    # A spreadsheet must not run what people write.
    assert row["vernacularName"] == "'=scaly fern"


def test_a_place_of_a_protected_wild_fern_is_withheld_and_said_to_be(office, nursery):
    rows = {row["occurrenceID"]: row for row in exported(office)}
    kept = rows[f"origin:{nursery['wild']}"]
    assert (kept["locality"], kept["informationWithheld"]) == (
        "", "locality withheld: a protected fern",
    )  # fmt: skip
    assert rows[f"origin:{nursery['open']}"]["locality"] == "Peat bank"
    assert not any("Hag Wood" in "".join(row.values()) for row in rows.values())


def test_provenance_goes_from_origin_to_batch(office, nursery):
    codes = {
        (row["catalogNumber"][:1], json.loads(row["dynamicProperties"])["itf2Provenance"],
         json.loads(row["dynamicProperties"])["itf2PropagationHistory"])
        for row in exported(office) if row["occurrenceID"].startswith("batch:")
    }  # fmt: skip
    assert {code[1:] for code in codes} == {("Z", "VB"), ("Z", "SA"), ("G", "VA")}


def test_the_archive_is_described_as_the_text_guide_asks(office, nursery):
    answer = office.get(reverse("batches:darwin-core-archive"))
    archive = zipfile.ZipFile(io.BytesIO(answer.content))
    assert sorted(archive.namelist()) == sorted([FILE, "meta.xml"])
    root = ET.fromstring(archive.read("meta.xml"))  # noqa: S314 - our own file
    assert root.tag == f"{XML}archive"
    core = root.find(f"{XML}core")
    assert core is not None
    assert core.attrib["rowType"] == "http://rs.tdwg.org/dwc/terms/Occurrence"
    assert (core.attrib["fieldsTerminatedBy"], core.attrib["linesTerminatedBy"]) == (",", r"\r\n")
    location = core.find(f"{XML}files/{XML}location")
    assert location is not None
    assert location.text == FILE
    identified = core.find(f"{XML}id")
    assert identified is not None
    fields = {int(f.attrib["index"]): f.attrib["term"] for f in core.findall(f"{XML}field")}
    header = archive.read(FILE).decode().split("\r\n")[0].split(",")
    assert [fields[place] for place in range(len(header))] == [NAMESPACE + h for h in header]
    assert header[int(identified.attrib["index"])] == "occurrenceID"
    assert len(table(archive.read(FILE).decode())) == 8
