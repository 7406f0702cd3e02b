"""What can go wrong between a list of labels and a printed sheet?"""

from __future__ import annotations

from batches.core.errors import NurseryError


class LabelsUnavailable(NurseryError):
    """PDFs cannot be made here or just now; the caller offers the print page instead."""


class LabelRefused(NurseryError):
    """The labels, the stock or the place to write to cannot be used as given."""


class PrintStopped(NurseryError):
    """Somebody stopped the print before it was done; nothing was written."""
