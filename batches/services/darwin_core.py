"""How do origins, lots and batches read as Darwin Core, for gardens and biodiversity databases?

One table, a row an origin, a lot or a batch, each column a term of Darwin Core; as a CSV file, or
as an archive with the description that the Darwin Core text guide asks for. Places of protected
wild ferns are withheld, and the row says so.
"""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Iterable, Iterator
from xml.sax.saxutils import escape

from batches.core.provenance import batch_provenance, propagation_history
from batches.core.stages import Route
from batches.models import Batch, Source, SporeLot, Taxon
from batches.services.own_settings import own_setting
from batches.services.protection import protection_of
from batches.services.records_io.guarding import guarded

TERMS = (
    "occurrenceID", "basisOfRecord", "institutionCode", "catalogNumber", "scientificName", "genus",
    "specificEpithet", "infraspecificEpithet", "cultivarEpithet", "taxonRank", "vernacularName",
    "nomenclaturalCode", "recordedBy", "eventDate", "locality", "degreeOfEstablishment",
    "preparations", "disposition", "associatedOccurrences", "informationWithheld",
    "dynamicProperties", "occurrenceRemarks",
)  # fmt: skip
#: RFC 3986 address of every term (Darwin Core namespace)
NAMESPACE = "http://rs.tdwg.org/dwc/terms/"
FILE = "origins-lots-batches.csv"
_RANKS = {"subsp.": "subspecies", "var.": "variety", "f.": "form"}


def darwin_core_rows() -> Iterator[list[str]]:
    """Yield the table, the header first: origins, then lots, then batches, each by code."""
    institution = own_setting("nursery_name")
    yield list(TERMS)
    for row in (*_origins(), *_lots(), *_batches()):
        row["institutionCode"] = institution
        yield [row.get(term, "") for term in TERMS]


def darwin_core_csv() -> str:
    """Return the table as a CSV file for people: a spreadsheet runs nothing in it."""
    return _csv([guarded(cell) for cell in row] for row in darwin_core_rows())


def darwin_core_archive() -> bytes:
    """Return a Darwin Core archive: the table and meta.xml (Darwin Core text guide)."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(FILE, _csv(darwin_core_rows()))
        archive.writestr("meta.xml", _meta())
    return held.getvalue()


def _csv(rows: Iterable[list[str]]) -> str:
    text = io.StringIO(newline="")
    csv.writer(text).writerows(rows)
    return text.getvalue()


def _meta() -> str:
    fields = "\n".join(
        f'    <field index="{place}" term="{NAMESPACE}{term}"/>' for place, term in enumerate(TERMS)
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<archive xmlns="http://rs.tdwg.org/dwc/text/">\n'
        '  <core encoding="UTF-8" fieldsTerminatedBy="," linesTerminatedBy="\\r\\n" '
        'fieldsEnclosedBy=\'"\' ignoreHeaderLines="1" '
        f'rowType="{NAMESPACE}Occurrence">\n'
        f"    <files><location>{escape(FILE)}</location></files>\n"
        '    <id index="0"/>\n'
        f"{fields}\n  </core>\n</archive>\n"
    )


def _name(taxon: Taxon) -> dict[str, str]:
    rank = "species" if taxon.species else "genus"
    if taxon.infra_epithet:
        rank = _RANKS.get(taxon.infra_rank, "")
    return {
        "scientificName": taxon.name.text,
        "genus": taxon.genus,
        "specificEpithet": taxon.species,
        "infraspecificEpithet": taxon.infra_epithet,
        "cultivarEpithet": taxon.cultivar,
        "taxonRank": "cultivar" if taxon.cultivar else rank,
        "vernacularName": taxon.common_name,
        "nomenclaturalCode": "ICNCP" if taxon.cultivar or taxon.group else "ICN",
    }


def _codes(provenance: str, propagation: str) -> str:
    return json.dumps({"itf2Provenance": provenance, "itf2PropagationHistory": propagation})


def _origins() -> Iterator[dict[str, str]]:
    for source in Source.objects.select_related("taxon").order_by("code"):
        wild = source.kind == "wild"
        withheld = bool(source.locality) and wild and bool(protection_of(source.taxon))
        yield _name(source.taxon) | {
            "occurrenceID": f"origin:{source.code}",
            # A wild place is seen, not kept; everything else is a living plant in cultivation.
            "basisOfRecord": "HumanObservation" if wild else "LivingSpecimen",
            "catalogNumber": source.code,
            "locality": "" if withheld else source.locality,
            "degreeOfEstablishment": "" if wild else "cultivated",
            "associatedOccurrences": " | ".join(
                f"mother: {code}" for code in source.mothers.replace(",", " ").split()
            ),
            "informationWithheld": "locality withheld: a protected fern" if withheld else "",
            "dynamicProperties": _codes(source.provenance, "I" if wild else "U"),
            "occurrenceRemarks": source.get_kind_display(),
        }


def _lots() -> Iterator[dict[str, str]]:
    for lot in SporeLot.objects.select_related("taxon", "source__taxon").order_by("code"):
        origin = lot.source
        wild = origin.kind == "wild"
        withheld = bool(origin.locality) and wild and bool(protection_of(lot.taxon))
        yield _name(lot.taxon) | {
            "occurrenceID": f"lot:{lot.code}",
            "basisOfRecord": "LivingSpecimen",
            "catalogNumber": lot.code,
            "recordedBy": lot.collected_by,
            "eventDate": lot.collected_on.isoformat(),
            "locality": origin.locality if wild and not withheld else "",
            "degreeOfEstablishment": "" if wild else "cultivated",
            "preparations": "spores",
            "disposition": "in collection" if lot.ended_on is None else "consumed",
            "associatedOccurrences": f"collected from: origin:{origin.code}",
            "informationWithheld": "locality withheld: a protected fern" if withheld else "",
            "dynamicProperties": _codes(origin.provenance, "I" if wild else "U"),
            "occurrenceRemarks": "spores",
        }


def _batches() -> Iterator[dict[str, str]]:
    rows = Batch.objects.select_related("taxon", "spore_lot__source", "source").order_by("code")
    for batch in rows:
        origin = batch.spore_lot.source if batch.spore_lot is not None else batch.source
        route = Route(batch.route)
        behind = (
            f"lot:{batch.spore_lot.code}"
            if batch.spore_lot is not None
            else f"origin:{batch.source.code}" if batch.source is not None else ""
        )  # fmt: skip
        yield _name(batch.taxon) | {
            "occurrenceID": f"batch:{batch.code}",
            "basisOfRecord": "LivingSpecimen",
            "catalogNumber": batch.code,
            "eventDate": batch.started_on.isoformat(),
            "degreeOfEstablishment": "cultivated",
            "associatedOccurrences": f"raised from: {behind}" if behind else "",
            "dynamicProperties": _codes(
                batch_provenance("" if origin is None else origin.provenance, route),
                propagation_history(route, genus=batch.taxon.genus, species=batch.taxon.species),
            ),
            "occurrenceRemarks": f"raised from {batch.get_route_display()}",
        }
