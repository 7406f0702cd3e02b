"""Does every module keep the house rules that neither ruff nor import-linter can hold?"""

from __future__ import annotations

import ast
import re
import tomllib
from itertools import chain
from pathlib import Path

import pytest
from django.core.management import call_command

ROOT = Path(__file__).resolve().parents[2]
MODULES = sorted(
    path.relative_to(ROOT / "batches").as_posix()
    for path in (ROOT / "batches").rglob("*.py")
    if "migrations" not in path.parts
)
LENGTH = 350
# The records format, column by column: one table, which is read as one.
LONGER = {"services/records_io/columns.py"}
BELOW_THE_PAGES = ("core/", "models/", "services/", "labels/", "forms/", "charts/", "templatetags/")
# An account is made by Django's own words, which know no `now`.
CLOCK_ALLOWED = {"models/people.py"}
# What reads the clock of the computer, as `thing.name`, and what does when nothing is given.
CLOCKS = {("date", "today"), ("datetime", "now"), ("datetime", "today"), ("datetime", "utcnow"),
          ("timezone", "now"), ("time", "time")}  # fmt: skip
CLOCKS_UNLESS_GIVEN = {"localtime", "localdate"}


def tree_of(module: str) -> ast.Module:
    return ast.parse((ROOT / "batches" / module).read_text(encoding="utf-8"))


def named(part: ast.expr) -> str:
    """Give the last name of `a.b.c`."""
    return part.attr if isinstance(part, ast.Attribute) else getattr(part, "id", "")


def reads_clock(node: ast.AST) -> bool:
    """Say whether this part of a module asks what time it is."""
    if isinstance(node, ast.Attribute):
        return (named(node.value), node.attr) in CLOCKS
    if isinstance(node, ast.Call):
        return named(node.func) in CLOCKS_UNLESS_GIVEN and not node.args
    # A field that fills itself in.
    return isinstance(node, ast.keyword) and node.arg in {"auto_now", "auto_now_add"}


@pytest.mark.parametrize(
    ("text", "reads"),
    [
        ("date.today()", True),
        ("f(timezone.now)", True),
        ("datetime.datetime.now(UTC)", True),
        ("D(auto_now=True)", True),
        ("timezone.localtime()", True),
        ("timezone.localtime(seen)", False),
        ("today + timedelta(days=1)", False),
    ],
)
def test_a_clock_is_seen_where_it_is_read(text: str, *, reads: bool) -> None:
    assert any(reads_clock(node) for node in ast.walk(ast.parse(text))) is reads


def test_no_clock_is_read_below_pages_and_commands() -> None:
    """Below them, `today` and `now` are passed in."""
    below = [module for module in MODULES if module.startswith(BELOW_THE_PAGES)]
    assert len(below) > 100
    found = {module for module in below if any(map(reads_clock, ast.walk(tree_of(module))))}
    assert found == CLOCK_ALLOWED


def test_a_deed_names_its_arguments_and_at_most_its_subject_stands_alone() -> None:
    """A deed here: a public service that opens a transaction."""
    deeds = [
        (module, part)
        for module in MODULES
        if module.startswith("services/")
        for part in tree_of(module).body
        if isinstance(part, ast.FunctionDef)
        and not part.name.startswith("_")
        and "transaction.atomic" in ast.unparse(part)
    ]
    assert len(deeds) > 60
    alone = {f"{module}: {deed.name}" for module, deed in deeds if len(deed.args.args) > 1}
    assert alone == set()


def test_a_service_opens_with_the_question_it_answers() -> None:
    services = [one for one in MODULES if re.match(r"services/.*(?<!__init__)\.py", one)]
    assert len(services) > 50
    opened = {one: (ast.get_docstring(tree_of(one)) or "").partition("\n\n")[0] for one in services}
    assert {one for one, words in opened.items() if "?" not in words} == set()


def test_a_module_is_not_too_long_to_be_read() -> None:
    lengths = {one: (ROOT / "batches" / one).read_text("utf-8").count("\n") for one in MODULES}
    assert {one for one, lines in lengths.items() if lines > LENGTH} == LONGER


@pytest.mark.django_db
def test_no_change_of_a_model_waits_for_its_migration() -> None:
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


def test_the_directory_of_services_names_each_of_them_once():
    opening = ast.get_docstring(tree_of("services/__init__.py"), clean=False) or ""
    subjects = [line for line in opening.splitlines() if line.startswith("    ")]
    listed = " ".join(subjects).split()
    folder = ROOT / "batches" / "services"
    there = {path.stem for path in folder.glob("*.py")} - {"__init__"}
    there |= {path.parent.name for path in folder.glob("*/__init__.py")}
    assert sorted(listed) == sorted(there)


# What is installed


def pins() -> dict[str, str]:
    lines = (ROOT / "requirements.lock").read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if line.strip() and not line.lstrip().startswith("#")]
    return dict(line.split("==") for line in kept)


def normal(name: str) -> str:
    """Give a package's name as indexes compare it. Source: PyPA, names and normalization."""
    return re.sub(r"[-_.]+", "-", name).lower()


def test_every_package_is_pinned_and_by_nothing_but_its_version() -> None:
    for name, version in pins().items():
        assert re.fullmatch(r"[a-z0-9][a-z0-9.-]*", name), name
        assert re.fullmatch(r"\d+(\.\w+)*", version), (name, version)


def test_what_the_project_asks_for_is_pinned() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked = [*project["dependencies"], *chain(*project["optional-dependencies"].values())]
    names = {normal(re.split(r"[\[<>=!~ ]", one)[0]) for one in asked}
    assert names - {normal(name) for name in pins()} == set()
