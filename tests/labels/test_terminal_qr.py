"""Can a camera read the symbol that is printed in a terminal?"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import zxingcpp

from batches.labels.terminal_qr import qr_in_terminal

# What a half block paints: (upper, lower), light as the letters of a dark terminal are.
PAINTED = {"█": (255, 255), "▀": (255, 0), "▄": (0, 255), " ": (0, 0)}


@pytest.mark.parametrize(
    "address",
    [
        "http://fernery.home.arpa:8000/setup/",
        "http://192.168.1.20:8000/setup/",
        "http://[fd12:3456:789a::1]:48000/setup/",
    ],
)
@pytest.mark.parametrize("dark_letters", [False, True])
def test_the_symbol_is_read_by_another_program(address: str, dark_letters: bool) -> None:
    """cross-implementation: zxing reads what the terminal shows, on dark and on light ground."""
    lines = qr_in_terminal(address).rstrip("\n").split("\n")
    width = max(map(len, lines))
    rows = []
    for line in lines:
        pairs = [PAINTED[letter] for letter in line.ljust(width)]
        rows += [[upper for upper, _ in pairs], [lower for _, lower in pairs]]
    picture: Any = np.kron(np.array(rows, dtype=np.uint8), np.ones((6, 6), dtype=np.uint8))
    if dark_letters:
        picture = 255 - picture
    # The rest of the terminal's window lies round it.
    picture = np.pad(picture, 24, constant_values=255 if dark_letters else 0)
    assert [found.text for found in zxingcpp.read_barcodes(picture)] == [address]
    assert width <= 80
