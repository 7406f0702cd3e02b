"""Which files does a page load as one, so that its first visit costs few requests?

Scripts and style sheets stay small files for reading and for tests. What a page needs of them is
joined when static files are collected; nothing is rewritten but the lines by which the bench
page's modules name one another, and lines that are a comment stay behind. Each module keeps a scope
of its own, so that two may use one name.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from django.contrib.staticfiles.finders import BaseFinder, find
from django.core.checks import CheckMessage
from django.core.exceptions import ImproperlyConfigured
from django.core.files.base import ContentFile, File
from django.core.files.storage import FileSystemStorage

#: what each joined file is made of; of a bench module's file, only the first module is named
JOINED = {
    "js/office.js": (
        "django_htmx/htmx-2.min.js", "js/frond.js", "js/bench_map.js", "js/rough_count.js",
        "js/kept_here.js", "js/time_left.js",
    ),
    "css/at_bench.css": ("css/frond.css", "css/bench.css"),
    "css/with_charts.css": ("css/frond.css", "css/charts.css"),
    "css/with_first_hour.css": ("css/frond.css", "css/first_hour.css"),
    "css/with_setup.css": ("css/frond.css", "css/setup.css"),
    "css/with_sow.css": ("css/frond.css", "css/sow.css"),
    "css/with_tablets.css": ("css/frond.css", "css/tablets.css"),
    "css/with_upkeep.css": ("css/frond.css", "css/upkeep.css"),
}  # fmt: skip
BENCH_SCRIPT, FIRST_MODULE = "js/at_bench.js", "bench_page"

_IMPORT = re.compile(r'^import \{ ([\w, ]+) \} from "\./(bench_\w+)\.js";$', re.MULTILINE)
_EXPORT = re.compile(r"^export (?=(?:const|class|(?:async )?function) (\w+))", re.MULTILINE)
_COMMENT = re.compile(r"^[ \t]*//.*\n|^[ \t]*/\*(?:(?!\*/)[\s\S])*\*/[ \t]*\n", re.MULTILINE)
_LEFT = re.compile(r"^(?:import\b|export\b).*|\bimport\(.*|\bimport\.meta\b.*", re.MULTILINE)


def joined_modules(sources: dict[str, str], *, first: str) -> str:
    """Give one module that does what `first` and all that it imports do, each run once, in order.

    ``sources`` holds each module's text by its name. Modules that import one another in a circle,
    or use another form than `import { a, b } from "./bench_x.js";` and `export` before a constant,
    class or function, are refused by an `ImproperlyConfigured` that names the module.
    """
    order: list[str] = []
    _visit(first, sources, order, [])
    return "\n".join(_as_scope(name, sources[name]) for name in order)


def _visit(name: str, sources: dict[str, str], order: list[str], path: list[str]) -> None:
    if name in order:
        return
    if name in path or name not in sources:
        fault = "is absent" if name not in sources else "imports itself in a circle"
        raise ImproperlyConfigured(f"The module {' → '.join([*path, name])} {fault}.")
    for found in _IMPORT.finditer(sources[name]):
        _visit(found[2], sources, order, [*path, name])
    order.append(name)


def _as_scope(name: str, source: str) -> str:
    """Give a module as a function that is run at once and hands its exports on by name."""
    given = ", ".join(found[1] for found in _EXPORT.finditer(source))
    body = _IMPORT.sub(r"const { \1 } = \2;", _EXPORT.sub("", source))
    if left := _LEFT.search(body):
        raise ImproperlyConfigured(f"The module {name} cannot be joined: {left[0][:80]}")
    return f"const {name} = (() => {{\n{body}\nreturn {{ {given} }};\n}})();\n"


def _text(address: str) -> str:
    found = find(address)
    if not found:
        raise ImproperlyConfigured(f"{address} is missing.")
    return without_comments(Path(found).read_text(encoding="utf-8"))


def without_comments(text: str) -> str:
    """Leave out the lines that hold a comment alone: a tenth of what a first visit weighs."""
    return _COMMENT.sub("", text)


def joined_text(address: str) -> str:
    """Give the text of a joined file; `KeyError` where there is none of that address."""
    if address == BENCH_SCRIPT:
        folder = Path(str(find(f"js/{FIRST_MODULE}.js"))).parent
        sources = {one.stem: one.read_text(encoding="utf-8") for one in folder.glob("bench_*.js")}
        return without_comments(joined_modules(sources, first=FIRST_MODULE))
    # A semicolon between scripts: the one before may end without its own.
    between = "\n;" if address.endswith(".js") else "\n"
    return between.join(_text(one) for one in JOINED[address])


class JoinedStorage(FileSystemStorage):
    """The joined files, to read only."""

    def path(self, name: str) -> str:  # noqa: ARG002
        """Give this module's file: with it, and with the sources, the joined files change."""
        return __file__

    def exists(self, name: str) -> bool:
        return name == BENCH_SCRIPT or name in JOINED

    def _open(self, name: str, mode: str = "rb") -> File[Any]:  # noqa: ARG002
        return ContentFile(joined_text(name).encode(), name=name)


class JoinedFinder(BaseFinder):
    """Finds the joined files while static files are collected; none of them lies on a disk."""

    storage = JoinedStorage()

    def check(self, **_: Any) -> list[CheckMessage]:
        """Nothing here can be set wrongly."""
        return []

    def find(self, *_: Any, **__: Any) -> Any:
        """Give nothing: a joined file has no place of its own before it is collected."""
        return []

    def list(self, _: Iterable[str] | None) -> Iterator[tuple[str, JoinedStorage]]:
        """Give every joined file."""
        for address in (*JOINED, BENCH_SCRIPT):
            yield address, self.storage
