"""Which scripts and fonts come out of the installed packages, and under which address?

Nothing of somebody else's is kept in this repository: the chart script and the typeface are found
where their packages were installed and served from there (django-htmx brings its script as an app
of its own). A font is cut down to Latin letters and packed on its way out.
"""

from __future__ import annotations

import importlib.util
import io
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from django.contrib.staticfiles.finders import BaseFinder
from django.core.checks import CheckMessage
from django.core.files.base import ContentFile, File
from django.core.files.storage import FileSystemStorage

FONT_PACKAGE = "fontpkg_atkinson_hyperlegible"
PACKAGE_FILES = {
    "plotly/plotly.min.js": ("plotly", "package_data/plotly.min.js"),
    "fonts/regular.woff2": (FONT_PACKAGE, "files/AtkinsonHyperlegible-Regular.ttf"),
    "fonts/bold.woff2": (FONT_PACKAGE, "files/AtkinsonHyperlegible-Bold.ttf"),
    "fonts/italic.woff2": (FONT_PACKAGE, "files/AtkinsonHyperlegible-Italic.ttf"),
    "fonts/bold-italic.woff2": (FONT_PACKAGE, "files/AtkinsonHyperlegible-BoldItalic.ttf"),
}
# Latin with its accents, the hybrid sign, dashes, quotation marks, arrows, minus and comparison
# signs.
LETTERS = (
    "U+0020-017F,U+2010-2026,U+2030,U+2032,U+2033,U+20AC,U+2190-2193,U+2212,U+2248,U+2264,U+2265"
)


def package_path(address: str) -> Path | None:
    """Give the installed file behind a static address; None where no package holds it."""
    package, inside = PACKAGE_FILES.get(address, ("", ""))
    spec = importlib.util.find_spec(package) if package else None
    if spec is None or spec.origin is None:
        return None
    path = Path(spec.origin).parent / inside
    return path if path.is_file() else None


def latin_woff2(font: Path) -> bytes:
    """Give the font with Latin letters only, packed for browsers (about 18 KB a face)."""
    from fontTools import subset

    options = subset.Options(flavor="woff2", layout_features=["*"], notdef_outline=True)
    face = subset.load_font(str(font), options)
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=subset.parse_unicodes(LETTERS.replace("U+", "")))
    cutter.subset(face)
    packed = io.BytesIO()
    subset.save_font(face, packed, options)
    face.close()
    return packed.getvalue()


class PackageStorage(FileSystemStorage):
    """The installed files under their static addresses, to read only."""

    def path(self, name: str) -> str:
        found = package_path(name)
        if found is None:
            raise FileNotFoundError(name)
        return str(found)

    def exists(self, name: str) -> bool:
        return package_path(name) is not None

    def _open(self, name: str, mode: str = "rb") -> File[Any]:
        path = Path(self.path(name))
        if name.endswith(".woff2"):
            return ContentFile(latin_woff2(path), name=name)
        return File(path.open(mode), name=name)


class PackageFinder(BaseFinder):
    """Finds static files that other people's packages brought along."""

    storage = PackageStorage()

    def check(self, **kwargs: Any) -> list[CheckMessage]:
        """Nothing here can be set wrongly."""
        return []

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Any:  # noqa: FBT001, FBT002
        """Give the installed file behind an address; an empty list says that there is none."""
        found = package_path(path)
        if find_all:
            return [str(found)] if found else []
        return str(found) if found else []

    def list(self, ignore_patterns: Iterable[str] | None) -> Iterator[tuple[str, PackageStorage]]:
        """Give every address whose package is installed."""
        for address in PACKAGE_FILES:
            if package_path(address) is not None:
                yield address, self.storage
