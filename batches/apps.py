"""What is this app called?"""

from __future__ import annotations

from django.apps import AppConfig


class BatchesConfig(AppConfig):
    """The propagation batches of one nursery."""

    name = "batches"
    verbose_name = "Propagation batches"
