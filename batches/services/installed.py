"""Which programs is this one made of, in which versions and under which licences?

Read from the metadata of what is installed; nothing is looked up elsewhere.
"""

from __future__ import annotations

import platform
import re
import sqlite3
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path
from typing import Any

from django.conf import settings

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")
#: a requirement that holds only with an extra that was not asked for
_EXTRA = re.compile(r";.*\bextra\s*==")


@dataclass(frozen=True, slots=True, kw_only=True)
class Package:
    """An installed package; ``licence`` is what its own metadata says of it."""

    name: str
    version: str
    licence: str
    asked_for: bool


@cache
def program_version() -> str:
    """Return this program's own version."""
    return str(_project()["version"])


def program_licence() -> str:
    """Return this program's own licence."""
    return str(_project()["license"])


def ground() -> tuple[tuple[str, str], ...]:
    """Return what the program stands on, with versions."""
    return (
        ("Python", platform.python_version()),
        ("SQLite", sqlite3.sqlite_version),
        ("System", f"{platform.system()} {platform.release()} ({platform.machine()})"),
    )


@cache
def packages() -> tuple[Package, ...]:
    """Return every package that runs with this program, by name: asked for, or brought along."""
    asked = [_name(line) for line in _project()["dependencies"]]
    found: dict[str, Package] = {}
    waiting = list(asked)
    while waiting:
        name = waiting.pop()
        if name in found:
            continue
        try:
            known = distribution(name)
        except PackageNotFoundError:
            continue  # asked for on other systems only
        found[name] = Package(
            name=known.metadata["Name"],
            version=known.version,
            licence=_licence(known),
            asked_for=name in asked,
        )
        waiting += [_name(line) for line in known.requires or () if not _EXTRA.search(line)]
    return tuple(sorted(found.values(), key=lambda package: package.name.casefold()))


def _licence(known: Distribution) -> str:
    """Return the licence by its expression, else its short name, else its classifiers."""
    about = known.metadata
    if "License-Expression" in about:
        return about["License-Expression"]
    classified = [
        line.rpartition(" :: ")[2]
        for line in about.get_all("Classifier") or ()
        if line.startswith("License :: ") and not line.endswith("OSI Approved")
    ]
    if classified:
        return ", ".join(classified)
    named = about["License"].strip() if "License" in about else ""
    return named.splitlines()[0][:80] if named else "see the package"


def _name(requirement: str) -> str:
    match = _NAME.match(requirement.strip())
    return re.sub(r"[-_.]+", "-", match[0]).lower() if match else ""


def _project() -> dict[str, Any]:
    file = Path(settings.BASE_DIR) / "pyproject.toml"
    project: dict[str, Any] = tomllib.loads(file.read_text("utf-8"))["project"]
    return project
