"""How good and how quick is the program, measured at full size?

    python -m tests.bench [NAME …]

prints one line a figure, `name value unit | floor value | ratio r | bar b | holds/falls short`,
and ends with exit status 0 when it ran to its end, whatever the figures say. Every module of this
folder with `figures()` is run, in order of name; with names, only those. At most 20 minutes.
"""

from __future__ import annotations

import importlib
import os
import pkgutil
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

from tests.bench.figure import Figure

# Matrices here are small: threads of the linear algebra cost more than they give.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
#: seconds after which no further part is begun
LONGEST_S = 17 * 60


def line_of(figure: Figure) -> str:
    """Return a figure as it is printed; what is not compared has a dash."""
    floor = "–" if figure.floor is None else f"{figure.floor:.4g}"
    ratio = "–" if figure.ratio is None else f"{figure.ratio:.3g}"
    verdict = "holds" if figure.holds else "falls short"
    return (
        f"{figure.name} {figure.value:.4g} {figure.unit} | floor {floor} | ratio {ratio} | "
        f"bar {figure.bar} | {verdict}"
    )


def parts() -> Iterator[str]:
    """Yield the names of the modules beside this one that may hold figures."""
    for found in pkgutil.iter_modules([str(Path(__file__).parent)]):
        if found.name not in {"__main__", "figure"}:
            yield found.name


def main(names: list[str]) -> int:
    """Run the named parts (all, without names) and print their figures."""
    _make_django_ready()
    known = list(parts())
    unknown = [name for name in names if name not in known]
    if unknown:
        sys.stderr.write(f"There is no such part: {', '.join(unknown)}. There are: "
                         f"{', '.join(known)}.\n")  # fmt: skip
        return 2
    begun = time.monotonic()
    for name in names or known:
        if time.monotonic() - begun > LONGEST_S:
            sys.stderr.write(f"Not begun for want of time: {name}\n")
            continue
        module: ModuleType = importlib.import_module(f"tests.bench.{name}")
        if not hasattr(module, "figures"):
            continue
        for figure in module.figures():
            sys.stdout.write(line_of(figure) + "\n")
            sys.stdout.flush()
    return 0


def _make_django_ready() -> None:
    """Let parts import services; their records lie in folders of their own, never in real data."""
    import tempfile

    folder = tempfile.mkdtemp(prefix="frondbook-bench-")
    os.environ["NURSERY_DATA"] = folder
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "nursery.settings")
    import django

    django.setup()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
