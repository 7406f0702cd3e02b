"""Can all of a language's catalogue files be read together, with no text twice among them?"""

from __future__ import annotations

from batches.services.language import LANGUAGES, catalogue_of


def test_the_files_of_each_language_are_read_as_one_catalogue() -> None:
    # A text that stands in two of its files is refused, and named.
    for language in list(LANGUAGES)[1:]:
        assert catalogue_of(language)["Today"]
