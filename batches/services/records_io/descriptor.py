"""How are the records described to other programs (Frictionless Data Package, Table Schema)?"""

from __future__ import annotations

import json
from typing import Any

from batches.services.records_io.columns import FILES, FORMAT_VERSION
from batches.services.records_io.guarding import ADDED
from batches.services.records_io.kinds import Column, Kind, RecordsFile

_CODE = r"[A-Za-z0-9](?:[A-Za-z0-9._-]{0,30}[A-Za-z0-9])?"
_TYPES = {
    Kind.WHOLE: "integer",
    Kind.NUMBER: "number",
    Kind.DAY: "date",
    Kind.MOMENT: "datetime",
    Kind.YES: "boolean",
}


def descriptor_text() -> str:
    """Return datapackage.json; the same text every time."""
    return json.dumps(descriptor(), ensure_ascii=False, indent=2) + "\n"


def descriptor() -> dict[str, Any]:
    """Return the description of all files: fields, constraints, keys, and the format's version.

    After Data Package and Table Schema, version 2 (datapackage.org).
    """
    return {
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": "frondbook-records",
        "title": "Records of a fern nursery",
        "description": (
            f"Written by Frondbook in its records format, version {FORMAT_VERSION}. Empty cells "
            "are unknown. Text that a spreadsheet would run as a formula stands behind an "
            "apostrophe, text with white space at an end between two."
        ),
        "version": FORMAT_VERSION,
        "resources": [_resource(file) for file in FILES],
    }


def _resource(file: RecordsFile) -> dict[str, Any]:
    schema: dict[str, Any] = {
        "$schema": "https://datapackage.org/profiles/2.0/tableschema.json",
        "fields": [_field(file, column) for column in file.columns],
        "missingValues": [""],
    }
    if file.key:
        schema["primaryKey"] = [file.key]
    keys = [
        {
            "fields": [column.name],
            "reference": {"resource": target, "fields": [key]},
        }
        for column in file.columns
        for target, key in [_target(file, column)]
        if target
    ]
    if keys:
        schema["foreignKeys"] = keys
    return {
        "$schema": "https://datapackage.org/profiles/2.0/dataresource.json",
        "name": file.name,
        "type": "table",
        "path": file.file_name,
        "description": file.about,
        "scheme": "file",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": {
            "delimiter": ",",
            "lineTerminator": "\n",
            "quoteChar": '"',
            "doubleQuote": True,
            "header": True,
        },
        "schema": schema,
    }


def _target(file: RecordsFile, column: Column) -> tuple[str, str]:
    """Return the file and column that a foreign key points at; empty for none."""
    if column.kind is Kind.REF:
        return column.refers[0], "code"
    if column.kind is Kind.ROW:
        return file.name, "id"
    return "", ""


def _field(file: RecordsFile, column: Column) -> dict[str, Any]:
    described: dict[str, Any] = {
        "name": column.name,
        "type": _TYPES.get(column.kind, "string"),
        "description": column.about,
    }
    if column.kind in {Kind.ID, Kind.ROW}:
        described["format"] = "uuid"
    if column.kind is Kind.YES:
        described["trueValues"] = ["yes"]
        described["falseValues"] = ["no"]
    constraints = _constraints(file, column)
    if constraints:
        described["constraints"] = constraints
    return described


def _constraints(file: RecordsFile, column: Column) -> dict[str, Any]:
    found: dict[str, Any] = {}
    if column.required:
        found["required"] = True
    if column.name == file.key:
        found["unique"] = True
    if column.kind is Kind.TEXT:
        # The text itself may have `longest`; a cell also holds the apostrophes that guard it.
        found["maxLength"] = (column.longest or 0) + ADDED
    elif column.kind is Kind.WORD:
        found["enum"] = list(column.words)
    elif column.kind is Kind.WORDS:
        found["pattern"] = _several("(?:" + "|".join(column.words) + ")")
    elif column.kind in {Kind.CODE, Kind.REF}:
        found["pattern"] = f"^{_CODE}$"
    elif column.kind is Kind.REFS:
        found["pattern"] = _several(_CODE)
    if column.least is not None:
        found["minimum"] = column.least
    if column.most is not None:
        found["maximum"] = column.most
    return found


def _several(one: str) -> str:
    return f"^{one}(?: {one})*$"
