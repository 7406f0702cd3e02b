"""One item of a message met a fault of the program: how do all the others go on?

A fault of one item would fail the whole message, and every one that the tablet sends after it.
So each is done in a savepoint of its own: the fault is undone and logged with its traceback, the
item's own answer says that it was not stored, and the tablet keeps it.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager

from django.db import InterfaceError, OperationalError, transaction

from batches.core.errors import NurseryError
from batches.services.sync_items import Item, ItemAnswer

_log = logging.getLogger(__name__)
#: no fault of one item: the database is away, busy or full, or the computer is
_STRIKES_ALL = (OperationalError, InterfaceError, OSError, MemoryError)


@contextmanager
def alone(what: str) -> Iterator[None]:
    """Undo and log a fault of the program in here, and go on after it.

    Raises
    ------
    NurseryError
        What the rules say is no fault; that, too, is undone.
    OperationalError, InterfaceError, OSError, MemoryError
        What strikes everything: then nothing of the message is stored.
    """
    try:
        with transaction.atomic():
            yield
    except (NurseryError, *_STRIKES_ALL):
        raise
    except Exception:
        _log.exception("A fault at %s of a tablet; all else of its message goes on", what)


def fault_answer(item: Item) -> ItemAnswer:
    """Return what to answer where a fault kept an item from being stored."""
    return ItemAnswer(
        id=str(item.id),
        status="fault",
        message=(
            "The program met a fault with this one and wrote it to its log. It is not stored: it "
            "stays on the tablet, or in its file, and is tried again."
        ),
    )
