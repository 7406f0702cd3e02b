"""How far is a long command?"""

from __future__ import annotations

import sys
from typing import TextIO

_WIDTH = 30


class ProgressBar:
    """A line on the terminal that grows; silent where nobody watches, unless it is asked for.

    Call it with what is being done, how much of it is done, and of how much.
    """

    def __init__(self, *, asked_for: bool = False, stream: TextIO | None = None) -> None:
        self._stream = stream if stream is not None else sys.stderr
        self._shown = asked_for or self._stream.isatty()
        self._last = ""

    def __call__(self, doing: str, done: int, total: int) -> None:
        """Draw the bar anew where it changed."""
        if not self._shown or total <= 0:
            return
        share = min(done / total, 1.0)
        bar = "#" * int(share * _WIDTH)
        line = f"{doing:<30.30} [{bar:<{_WIDTH}}] {share:4.0%}"
        if line != self._last:
            self._stream.write(f"\r{line}")
            self._stream.flush()
            self._last = line

    def end(self) -> None:
        """Leave the bar's line."""
        if self._last:
            self._stream.write("\n")
            self._stream.flush()
            self._last = ""
