"""Does the table of figures keep its form?"""

from __future__ import annotations

import re

import pytest

from tests.bench.__main__ import line_of, main, parts
from tests.bench.figure import Figure

FORM = re.compile(
    r"\S.* -?[\d.e+-]+ \S.* \| floor (–|[\d.e+-]+) \| ratio (–|[\d.e+-]+) \| bar \S.* \| "
    r"(holds|falls short)"
)


@pytest.mark.parametrize(
    ("figure", "line"),
    [
        (
            Figure("true cause first", 0.94, "share", None, None, "≥ 0.80", True),
            "true cause first 0.94 share | floor – | ratio – | bar ≥ 0.80 | holds",
        ),
        (
            Figure("Weibull fit of 200 trays", 1.5, "ms", 24.0, 16.0, "≥ 20 ×", False),
            "Weibull fit of 200 trays 1.5 ms | floor 24 | ratio 16 | bar ≥ 20 × | falls short",
        ),
    ],
)
def test_a_figure_is_one_line(figure: Figure, line: str) -> None:
    assert line_of(figure) == line
    assert FORM.fullmatch(line)


def test_every_part_has_figures() -> None:
    import importlib

    found = list(parts())
    assert {"durations", "survival", "forecast", "sowing", "labels"} <= set(found)
    for name in found:
        assert callable(importlib.import_module(f"tests.bench.{name}").figures), name


def test_a_part_that_is_not_there_is_named(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tests.bench.__main__._make_django_ready", lambda: None)
    assert main(["nonsense"]) == 2
    assert "nonsense" in capsys.readouterr().err
