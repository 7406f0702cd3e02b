"""What can go wrong, in words a grower understands?"""

from __future__ import annotations


class NurseryError(Exception):
    """A deed or a question that cannot be answered as put; the text is meant for the user.

    Parameters
    ----------
    message : str
        What is wrong, what was kept, what to do; whole sentences.
    field : str
        The form field or column it belongs to; empty when it belongs to none.
    """

    def __init__(self, message: str, *, field: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.field = field


class NotUnderstood(NurseryError):
    """A word, number or choice that the records do not know; nothing was stored."""


class UnknownCode(NurseryError):
    """No thing carries this code, or its check character does not fit."""


class AlreadyTaken(NurseryError):
    """The code or id exists already and stands for something else."""


class LedgerDoesNotBalance(NurseryError):
    """More would leave a tray than it holds."""


class NotPossibleNow(NurseryError):
    """The deed does not fit the state of the thing (ended, wrong stage, wrong batch)."""


class OutOfTime(NurseryError):
    """A date in the future, or before the thing existed."""


class ChangedMeanwhile(NurseryError):
    """Somebody else changed the same thing between reading and writing."""
