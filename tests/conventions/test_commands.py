"""Has every command help, a worked example, and one form of answering?"""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import get_commands, load_command_class

from batches.management.nursery_command import NurseryCommand

OURS = sorted(name for name, app in get_commands().items() if app == "batches")


@pytest.mark.parametrize("name", OURS)
def test_a_command_says_what_it_does_and_shows_it(name: str) -> None:
    command = load_command_class("batches", name)
    assert isinstance(command, NurseryCommand)
    assert len(command.help) > 30
    assert f"manage.py {name}" in command.example
    words = command.create_parser("manage.py", name).format_help()
    assert command.example in words
    assert ("--json" in words) is command.has_json


@pytest.mark.parametrize("name", OURS)
def test_the_worked_example_can_be_typed(name: str) -> None:
    command = load_command_class("batches", name)
    assert isinstance(command, NurseryCommand)
    typed = command.example.split(f"manage.py {name}", 1)[1]
    command.create_parser("manage.py", name).parse_args(shlex.split(typed.partition("\n")[0]))


@pytest.mark.parametrize("name", OURS)
def test_a_command_stands_in_the_list_of_commands(name: str) -> None:
    listed = (Path(settings.BASE_DIR) / "docs" / "commands.md").read_text(encoding="utf-8")
    assert re.search(rf"`{name}\b", listed)


@pytest.mark.parametrize("name", OURS)
def test_every_option_of_a_command_stands_in_its_line_of_the_list(name: str) -> None:
    listed = (Path(settings.BASE_DIR) / "docs" / "commands.md").read_text(encoding="utf-8")
    line = next((line for line in listed.splitlines() if line.startswith(f"| `{name}")), None)
    assert line is not None, f"docs/commands.md has no line “| `{name}`”"
    parser = load_command_class("batches", name).create_parser("manage.py", name)
    common = load_command_class("django.core", "check").create_parser("manage.py", "check")
    djangos = set(common._option_string_actions) | {"--json"}
    own = {one for one in parser._option_string_actions if one.startswith("--")} - djangos
    assert {one for one in own if one not in line} == set()
