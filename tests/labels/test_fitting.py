"""Do texts shrink, then wrap, and never vanish without a sign?"""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from batches.labels.faces import width_em
from batches.labels.fitting import ELLIPSIS, LEADING, Fitted, fit, wrap
from batches.labels.rows import Runs
from tests.labels.examples import CRISPA, GROUP, HYBRID


def said(fitted: Fitted) -> list[str]:
    return ["".join(text for text, _ in line) for line in fitted.lines]


def plain(text: str) -> Runs:
    return ((text, False),)


def widest(fitted: Fitted, *, bold: bool = False) -> float:
    """Return the width of the widest line in points, reckoned run by run."""
    return max(
        sum(width_em(text, bold=bold, italic=italic) for text, italic in line) * fitted.size
        for line in fitted.lines
    )


def room(runs: Runs, width: float, height: float, *, size: float = 12, least: float = 5) -> Fitted:
    return fit(runs, bold=False, width=width, height=height, size=size, least=least)


def test_what_fits_is_left_alone() -> None:
    fitted = room(CRISPA, 300, 30)
    assert said(fitted) == ["Dryopteris affinis 'Crispa Gracilis'"]
    assert (fitted.size, fitted.cut) == (12, False)


def test_a_name_breaks_before_its_cultivar() -> None:
    assert said(room(CRISPA, 110, 30)) == ["Dryopteris affinis", "'Crispa Gracilis'"]
    assert said(room(GROUP, 130, 45)) == [
        "Polystichum setiferum",
        "(Plumosum Group)",
        "'Mossy Ashlinn'",
    ]


def test_a_rank_and_ex_stand_with_what_follows_them() -> None:
    name: Runs = (
        ("Polystichum setiferum", True),
        (" subsp. ", False),
        ("proliferum", True),
        (" ex 'Plumosum'", False),
    )
    assert said(room(name, 130, 45)) == [
        "Polystichum setiferum",
        "subsp. proliferum",
        "ex 'Plumosum'",
    ]


def test_a_name_is_not_set_small_for_a_break_that_is_no_better() -> None:
    name: Runs = (("Polystichum setiferum subsp. proliferum ex 'Plumosum'", True),)
    careless = fit(name, bold=False, width=110, height=30, size=12, least=5, prose=True)
    assert room(name, 110, 30).size == careless.size


def test_italics_stay_where_they_were() -> None:
    fitted = room(HYBRID, 200, 14)
    assert fitted.lines == ((("Polystichum ", True), ("×", False), ("dycei", True)),)
    first, second = room(CRISPA, 110, 30).lines
    assert first == (("Dryopteris affinis", True),)
    assert second == (("'Crispa Gracilis'", False),)


def test_too_long_a_text_shrinks_before_it_takes_another_line() -> None:
    fitted = room(plain("Scaly male fern"), 60, 14)
    assert said(fitted) == ["Scaly male fern"]
    assert 5 <= fitted.size < 12


def test_a_date_and_its_week_are_not_torn() -> None:
    fitted = room(plain("sown Mon 30 Mar 2026 (wk 14)"), 70, 45)
    assert any("30 Mar 2026" in line for line in said(fitted))
    assert any("(wk 14)" in line for line in said(fitted))
    assert "\u00a0" not in "".join(said(fitted))


def test_a_word_wider_than_the_label_is_parted_and_whole() -> None:
    fitted = room(plain("A" * 60), 50, 60)
    assert "".join(said(fitted)) == "A" * 60
    assert not fitted.cut
    assert widest(fitted) <= 50


def test_what_cannot_fit_ends_in_a_sign_and_says_so() -> None:
    fitted = room(plain("many words " * 60), 50, 12)
    assert fitted.cut
    assert said(fitted)[-1].endswith(ELLIPSIS)
    assert widest(fitted) <= 50


def test_wrapping_never_takes_more_lines_than_it_may() -> None:
    assert wrap(CRISPA, bold=False, width=6, most=2, breaking=False) == ()
    assert len(wrap(CRISPA, bold=False, width=6, most=4, breaking=False)) == 4


def test_nothing_gives_nothing() -> None:
    assert wrap((), bold=False, width=10, most=3, breaking=True) == ()
    assert wrap(plain("   "), bold=False, width=10, most=3, breaking=True) == ()


WORDS = st.text(alphabet="abc DEF'(×)-é ", min_size=1, max_size=50).filter(str.strip)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(WORDS, st.booleans()), min_size=1, max_size=3), st.integers(20, 200))
def test_whatever_is_set_is_inside_and_complete(runs: list[tuple[str, bool]], width: int) -> None:
    fitted = fit(tuple(runs), bold=True, width=width, height=60, size=12, least=4.5)
    assert widest(fitted, bold=True) <= width + 1e-6
    assert fitted.height <= 60 + 1e-6 or fitted.size == 4.5
    assert len(fitted.lines) * fitted.size * LEADING == fitted.height
    given_letters = "".join("".join(text for text, _ in runs).split())
    set_letters = "".join("".join(said(fitted)).split())
    if fitted.cut:
        assert set_letters.endswith(ELLIPSIS)
        assert given_letters.startswith(set_letters.rstrip(ELLIPSIS))
    else:
        assert set_letters == given_letters
