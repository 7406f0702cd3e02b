"""Are the routes, windows and looks the ones the trade works by?"""

from __future__ import annotations

import pytest

from batches.core.signs import Sign
from batches.core.stages import (
    COVERED_STAGES,
    DEFAULT_WINDOWS,
    DONE_STAGES,
    ROUTES,
    STAGE_FACTS,
    STAGE_WORDS,
    FernKind,
    Route,
    Stage,
    default_window,
    fern_kind,
    is_ahead,
    look_every,
    next_stage,
    stages_between,
)


def test_every_stage_but_ready_has_a_window_on_its_route():
    for route, stages in ROUTES.items():
        for stage in stages[:-1]:
            for kind in FernKind:
                window = default_window(route, stage, kind)
                assert window is not None, f"DEFAULT_WINDOWS lacks {route.value}, {stage.value}"
                assert 0 < window.early <= window.usual <= window.late
        assert default_window(route, Stage.READY, FernKind.HARDY) is None
    assert all(stage in ROUTES[route] for route, stage in DEFAULT_WINDOWS)


@pytest.mark.parametrize(
    ("route", "stage", "kind", "days"),
    [
        # common practice, no source
        (Route.SPORE, Stage.SOWN, FernKind.HARDY, (10, 28, 90)),
        (Route.SPORE, Stage.SOWN, FernKind.GREEN, (2, 7, 21)),
        (Route.SPORE, Stage.SOWN, FernKind.TREE_FERN, (14, 60, 365)),
        (Route.SPORE, Stage.GAMETOPHYTE, FernKind.GREEN, (60, 120, 300)),
        (Route.SPORE, Stage.POTTED_UP, FernKind.TREE_FERN, (180, 400, 730)),
        (Route.BULBIL, Stage.PEGGED_DOWN, FernKind.HARDY, (60, 120, 200)),
        (Route.BULBIL, Stage.POTTED_UP, FernKind.GREEN, (60, 120, 300)),
        (Route.DIVISION, Stage.ROOTED_IN, FernKind.HARDY, (14, 30, 90)),
        (Route.BOUGHT_IN, Stage.POTTED_UP, FernKind.HARDY, (90, 180, 365)),
    ],
)
def test_default_windows(route, stage, kind, days):
    window = default_window(route, stage, kind)
    assert window is not None
    assert (window.early, window.usual, window.late) == days


def test_what_is_grown_from_spores_or_bulbils_is_covered_until_it_is_pricked_out():
    for route in (Route.SPORE, Route.BULBIL):
        stages = ROUTES[route]
        first_done = next(k for k, stage in enumerate(stages) if stage in DONE_STAGES)
        bare = [stage.value for stage in stages[:first_done] if stage not in COVERED_STAGES]
        assert bare == [], f"covered=True is missing in STAGE_FACTS for {bare}"


def test_every_stage_is_on_a_route_and_has_its_facts():
    placed = {stage for stages in ROUTES.values() for stage in stages}
    assert placed == set(Stage) == set(STAGE_FACTS)


def test_moves_along_a_route():
    assert next_stage(Route.SPORE, Stage.FIRST_FROND) is Stage.PRICKED_OUT
    assert next_stage(Route.DIVISION, Stage.ROOTED_IN) is Stage.POTTED_UP
    assert next_stage(Route.SPORE, Stage.READY) is None
    assert next_stage(Route.BULBIL, Stage.SOWN) is None
    assert is_ahead(Route.SPORE, Stage.READY, Stage.SOWN)
    assert not is_ahead(Route.SPORE, Stage.SOWN, Stage.SOWN)
    assert not is_ahead(Route.BULBIL, Stage.GAMETOPHYTE, Stage.PEGGED_DOWN)
    assert stages_between(Route.SPORE, Stage.SOWN, Stage.FIRST_FROND) == (
        Stage.GAMETOPHYTE, Stage.FIRST_FROND,
    )  # fmt: skip
    assert stages_between(Route.SPORE, Stage.FIRST_FROND, Stage.SOWN) == ()


def test_tree_ferns_come_before_the_colour_of_spores():
    assert fern_kind(spore_kind="green", form="tree_fern") is FernKind.TREE_FERN
    assert fern_kind(spore_kind="green", form="fern") is FernKind.GREEN
    assert fern_kind(spore_kind="not_green", form="fern") is FernKind.HARDY


@pytest.mark.parametrize(
    ("stage", "kind", "days", "signs", "resting", "every"),
    [
        (Stage.SOWN, FernKind.HARDY, 55, set(), False, 7),
        (Stage.SOWN, FernKind.HARDY, 56, set(), False, 14),
        (Stage.SOWN, FernKind.TREE_FERN, 56, set(), False, 21),
        (Stage.GAMETOPHYTE, FernKind.HARDY, 100, {Sign.MOULD}, False, 2),
        (Stage.POTTED_UP, FernKind.HARDY, 400, {Sign.DRY}, True, 2),
        (Stage.PRICKED_OUT, FernKind.HARDY, 300, set(), False, 7),
        (Stage.POTTED_UP, FernKind.HARDY, 400, set(), False, 14),
        (Stage.POTTED_UP, FernKind.HARDY, 400, set(), True, 30),
        # A rest begins at pricked out: a covered tray is looked at as ever.
        (Stage.GAMETOPHYTE, FernKind.HARDY, 100, set(), True, 14),
    ],
)
def test_days_between_looks(stage, kind, days, signs, resting, every):
    found = look_every(
        stage=stage, kind=kind, days_since_start=days, signs=frozenset(signs), resting=resting
    )
    assert found == every


def test_every_stage_has_a_word_on_screens():
    assert set(STAGE_WORDS) == set(Stage)
