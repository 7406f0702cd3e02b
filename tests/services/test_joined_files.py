"""Are the files of a page joined into one that does what they did apart?"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.contrib.staticfiles.finders import find
from django.core.exceptions import ImproperlyConfigured

from batches.services.joined_files import (
    BENCH_SCRIPT,
    JOINED,
    JoinedFinder,
    JoinedStorage,
    joined_modules,
    joined_text,
    without_comments,
)
from tests.running_nursery import ROOT


def test_a_module_stands_behind_all_that_it_imports_and_once() -> None:
    joined = joined_modules(
        {
            "bench_a": 'import { b } from "./bench_b.js";\nimport { c } from "./bench_c.js";\nc;',
            "bench_b": 'import { c } from "./bench_c.js";\nexport const b = () => c;',
            "bench_c": "export const c = 1;",
            "bench_d": "export const never = 1;",
        },
        first="bench_a",
    )
    assert re.findall(r"^const (\w+) = \(\(\) => \{$", joined, re.MULTILINE) == [
        "bench_c",
        "bench_b",
        "bench_a",
    ]
    assert "const { c } = bench_c;\nconst b = () => c;\nreturn { b };" in joined
    assert "import" not in joined
    assert "export" not in joined


@pytest.mark.parametrize(
    "line",
    [
        'import * as b from "./bench_b.js";',
        'import "./bench_b.js";',
        'const b = import("./bench_b.js");',
        "export default 1;",
        "export { a };",
        "export let a = 1;",
        "console.log(import.meta.url);",
    ],
)
def test_a_form_that_the_joiner_does_not_know_is_refused_by_name(line: str) -> None:
    with pytest.raises(ImproperlyConfigured, match="bench_a"):
        joined_modules({"bench_a": line, "bench_b": ""}, first="bench_a")


def test_modules_in_a_circle_or_absent_are_refused() -> None:
    one = 'import { x } from "./bench_b.js";\nexport const y = 1;'
    with pytest.raises(ImproperlyConfigured, match="bench_a → bench_b is absent"):
        joined_modules({"bench_a": one}, first="bench_a")
    other = 'import { y } from "./bench_a.js";\nexport const x = 1;'
    with pytest.raises(ImproperlyConfigured, match="bench_a → bench_b → bench_a imports itself"):
        joined_modules({"bench_a": one, "bench_b": other}, first="bench_a")


def test_every_module_of_the_bench_page_is_in_its_script_and_hands_on_what_is_asked_of_it() -> None:
    joined = joined_text(BENCH_SCRIPT)
    scopes = dict(
        re.findall(
            r"^const (bench_\w+) = \(\(\) => \{\n.*?^return \{ (.*?) \};\n\}\)\(\);$",
            joined,
            re.MULTILINE | re.DOTALL,
        )
    )
    assert len(scopes) >= 16
    assert list(scopes)[-1] == "bench_page"
    for names, module in re.findall(r"^const \{ ([\w, ]+) \} = (bench_\w+);$", joined, re.M):
        assert set(names.split(", ")) <= set(scopes[module].split(", ")), module


@pytest.mark.parametrize("address", sorted(JOINED))
def test_a_joined_file_holds_each_of_its_files(address: str) -> None:
    joined = joined_text(address)
    for source in JOINED[address]:
        found = find(source)
        assert found, source
        assert without_comments(Path(str(found)).read_text(encoding="utf-8")) in joined


def test_only_lines_that_are_a_comment_stay_behind() -> None:
    kept = 'say("// no comment"); // at the end of a line\n.glyph { width: 1em; } /* so too */\n'
    given = f"// one\n  // indented\n{kept}/* over\n   two lines */\n"
    assert without_comments(given) == kept


@pytest.mark.parametrize(
    "path", sorted((ROOT / "static" / "js").glob("*.js")), ids=lambda p: p.name
)
def test_no_text_of_a_script_goes_over_lines_where_it_might_look_like_a_comment(path: Path) -> None:
    lines = without_comments(path.read_text(encoding="utf-8")).splitlines()
    assert [line for line in lines if line.count("`") % 2] == []


def test_all_of_them_are_collected_and_read_only() -> None:
    listed = [name for name, _ in JoinedFinder().list(None)]
    assert listed == [*JOINED, BENCH_SCRIPT]
    storage = JoinedStorage()
    assert all(storage.exists(name) for name in listed)
    assert not storage.exists("css/frond.css")
    with storage.open("css/at_bench.css") as file:
        assert file.read().decode() == joined_text("css/at_bench.css")
