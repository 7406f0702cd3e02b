"""Does the page about the program name what truly runs here, with a licence for each?"""

from __future__ import annotations

import tomllib
from importlib.metadata import version
from pathlib import Path

from django.conf import settings
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from batches.services.installed import ground, packages, program_licence, program_version

PROJECT = tomllib.loads((Path(settings.BASE_DIR) / "pyproject.toml").read_text())["project"]


def test_every_package_asked_for_is_named_in_its_installed_version() -> None:
    found = {str(canonicalize_name(one.name)): one for one in packages()}
    asked = {str(canonicalize_name(Requirement(line).name)) for line in PROJECT["dependencies"]}
    assert asked <= set(found)
    assert {name for name, one in found.items() if one.asked_for} == asked
    assert found["django"].version == version("django")
    # *published: the package's own metadata*
    assert found["django"].licence == "BSD-3-Clause"
    assert found["fontpkg-atkinson-hyperlegible"].licence == "OFL-1.1"


def test_each_has_a_licence_and_what_is_brought_along_is_there_too() -> None:
    names = {canonicalize_name(one.name) for one in packages()}
    assert {"sqlparse", "asgiref", "fonttools"} <= names  # Django's and WeasyPrint's own
    assert "pytest" not in names
    assert [one.name for one in packages() if one.licence in ("", "UNKNOWN")] == []


def test_the_program_s_own_version_and_licence_are_those_of_the_project() -> None:
    assert (program_version(), program_licence()) == (PROJECT["version"], PROJECT["license"])
    assert [name for name, _ in ground()] == ["Python", "SQLite", "System"]
