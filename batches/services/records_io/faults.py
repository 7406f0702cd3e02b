"""What is wrong with which cell of the records, and what would be right?"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from batches.services.records_io.kinds import RecordsFile

#: in place of a column's name: the fault lies with the whole row, or with the whole file
WHOLE_ROW = "row"
WHOLE_FILE = "file"
#: more words than this are not searched for one that is spelt alike
_MOST_COMPARED = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class RowError:
    """One fault; as text ``trays.csv:7: bench: what is wrong, what would be right``.

    ``line`` counts from 1, the header's line; ``column`` is a column's name, ``row`` or ``file``.
    """

    file: str
    line: int
    column: str
    message: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.column}: {self.message}"


class Faults:
    """The faults found so far; every part of an import adds to one of these."""

    def __init__(self) -> None:
        self._found: dict[RowError, None] = {}

    def __bool__(self) -> bool:
        return bool(self._found)

    def add(self, file: RecordsFile | str, line: int, column: str, message: str) -> None:
        """Note a fault; the same one noted twice is one."""
        name = file if isinstance(file, str) else file.file_name
        self._found[RowError(file=name, line=line, column=column, message=message)] = None

    def in_order(self, columns: Mapping[str, Sequence[str]]) -> tuple[RowError, ...]:
        """Return all faults in the order of the files, the lines and the columns.

        ``columns`` names the columns of each file by the file's name; faults of a whole row or
        file, and of other files, come first.
        """
        files = {name: rank for rank, name in enumerate(columns)}
        places = {
            (name, column): rank for name in columns for rank, column in enumerate(columns[name])
        }

        def rank(error: RowError) -> tuple[int, str, int, int]:
            place = places.get((error.file, error.column), -1)
            return files.get(error.file, -1), error.file, error.line, place

        return tuple(sorted(self._found, key=rank))


class Suggestions:
    """Offers the word that is spelt most like an unknown one; each question is answered once."""

    def __init__(self) -> None:
        self._answers: dict[tuple[int, str], str] = {}

    def like(self, text: str, known: dict[str, object]) -> str:
        """Return “ Did you mean …?” or nothing."""
        question = (id(known), text)
        if question not in self._answers:
            self._answers[question] = did_you_mean(text, known)
        return self._answers[question]


def did_you_mean(text: str, known: Iterable[str]) -> str:
    """Return “ Did you mean “…”?” for the known word spelt most alike, or nothing."""
    words = list(known)
    if len(words) > _MOST_COMPARED or len(text) > 80:
        return ""
    folded = {word.casefold(): word for word in words}
    near = get_close_matches(text.casefold(), folded, n=1, cutoff=0.7)
    return f" Did you mean “{folded[near[0]]}”?" if near else ""


def shown(text: str) -> str:
    """Return a cell as it is quoted in a message: on one line, and not the whole of a long one."""
    line = " ".join(text.split()).replace("\x00", "\N{SYMBOL FOR NULL}")
    return f"“{line[:60]}…”" if len(line) > 60 else f"“{line}”"
