"""How do style sheets, scripts and fonts get from their sources to the server?

`collect_if_changed` copies them into the data folder under names that carry a hash of their content, so that a
browser may keep them for good. Until that was done (in tests, in commands), pages name the plain addresses.
"""

from __future__ import annotations

from whitenoise.storage import CompressedManifestStaticFilesStorage


class CollectedStorage(CompressedManifestStaticFilesStorage):  # type: ignore[misc]
    """Hashed names once the files were collected, plain ones before."""

    def stored_name(self, name: str) -> str:
        """Give the address of a file; a file that is absent from a collected set is an error."""
        if not self.hashed_files:
            return name
        return str(super().stored_name(name))
