"""Does every address get the symbol that suits its label?"""

from __future__ import annotations

import random
from typing import Any

import numpy as np
import pytest
import segno
import zxingcpp

from batches.labels.errors import LabelRefused
from batches.labels.qr import QUIET, QrPlan, light_runs, matrix, plan_qr
from tests.labels.examples import LONG_HOST, SHORT_HOST

ADDRESS = f"{SHORT_HOST}/t/3-26W14-073-K"


def drawn(plan: QrPlan) -> np.ndarray:
    """Draw the symbol from its light runs, dark where nothing is light; 4 dots a module."""
    rows = matrix(plan.segments, plan.version, plan.level)
    dots = np.zeros((plan.modules, plan.modules), dtype=np.uint8)
    for x, y, length in light_runs(rows):
        dots[y, x : x + length] = 255
    return np.kron(np.pad(dots, QUIET, constant_values=255), np.ones((4, 4), dtype=np.uint8))


def plan(url: str, most_mm: float) -> QrPlan:
    return plan_qr(url, wished_mm=most_mm, most_mm=most_mm)


def test_what_is_drawn_reads_back_as_the_address() -> None:
    found = zxingcpp.read_barcodes(drawn(plan(ADDRESS, 25)))
    assert [code.text for code in found] == [ADDRESS]


def test_a_roomy_label_gets_whole_dots_and_the_address_as_it_is() -> None:
    chosen = plan(ADDRESS, 24)
    assert chosen.segments == ((ADDRESS, "byte"),)
    assert (chosen.version, chosen.level, chosen.dots) == (3, "M", 5)
    assert chosen.side_mm == pytest.approx(37 * 0.625)


def test_modules_are_half_a_millimetre_wherever_that_fits() -> None:
    assert plan(ADDRESS, 18.5).module_mm == 0.5


def test_capitals_save_a_version_and_mean_the_same_host() -> None:
    address = f"{LONG_HOST}/t/3-26W14-073-K"
    assert plan(address, 20.5).version == 4
    squeezed = plan(address, 18.6)
    assert (squeezed.version, squeezed.module_mm) == (3, 0.5)
    assert "".join(text for text, _ in squeezed.segments) == (
        "HTTPS://HOLLOWMERE-OFFICE.LOCAL:8443/t/3-26W14-073-K"
    )
    found = zxingcpp.read_barcodes(drawn(squeezed))
    assert [code.text for code in found] == ["".join(text for text, _ in squeezed.segments)]


def test_less_error_correction_comes_before_smaller_modules() -> None:
    chosen = plan(ADDRESS, 16.5)
    assert (chosen.level, chosen.version, chosen.module_mm) == ("L", 2, 0.5)
    smaller = plan(ADDRESS, 14)
    assert (smaller.level, smaller.version, smaller.module_mm) == ("M", 3, 0.375)


def test_a_code_keeps_its_case_whatever_happens_to_the_host() -> None:
    chosen = plan(f"{LONG_HOST}/t/myTray_7", 18.5)
    assert "".join(text for text, _ in chosen.segments).endswith("/t/myTray_7")


def test_an_address_that_fits_nowhere_is_refused() -> None:
    with pytest.raises(LabelRefused, match="does not fit on this label"):
        plan(ADDRESS, 10)
    with pytest.raises(LabelRefused, match="shorter address"):
        plan(f"http://{'h' * 190}/t/A1", 18)


def test_the_reckoned_version_is_the_one_the_encoder_needs() -> None:
    # The encoder is segno's, which reckons by the tables of ISO/IEC 18004.
    rng = random.Random(5)
    hosts = [SHORT_HOST, LONG_HOST, "http://a", "https://[2001:db8::7]:8443"]
    for _ in range(200):
        code = "".join(rng.choices("ABCDEFGHJK23456789-", k=rng.randint(1, 32)))
        address = f"{rng.choice(hosts)}/t/{code}"
        chosen = plan(address, rng.choice([14, 18.5, 30]) + len(address) / 8)
        content: Any = [text for text, _ in chosen.segments]
        needed = segno.make(content, error=chosen.level, micro=False, boost_error=False)
        assert needed.version == chosen.version


def test_the_mask_is_fixed_and_no_two_codes_look_alike() -> None:
    symbols = {
        matrix(chosen.segments, chosen.version, chosen.level)
        for chosen in (plan(f"{SHORT_HOST}/t/{n}-26W14-073-K", 25) for n in range(1, 40))
    }
    assert len(symbols) == 39
