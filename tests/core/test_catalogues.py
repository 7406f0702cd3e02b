"""Is a translator's file read rightly, and does Python's own gettext read what is made of it?"""

from __future__ import annotations

import gettext
import io

import pytest

from batches.core.catalogues import BadCatalogue, compiled, read_catalogue

PO = r"""
msgid ""
msgstr ""
"Content-Type: text/plain; charset=UTF-8\n"
"Plural-Forms: nplurals=2; plural=(n != 1);\n"

# a comment
#: templates/page.html:3
msgid "tray"
msgstr "Schale"

msgid "%(n)d tray"
msgid_plural "%(n)d trays"
msgstr[0] "%(n)d Schale"
msgstr[1] "%(n)d Schalen"

msgctxt "to a pot"
msgid "ready"
msgstr "verkaufsfertig"

msgid "two "
"lines\n"
msgstr ""
"zwei "
"„Zeilen“\n"

#, fuzzy
msgid "unsure"
msgstr "unsicher"

msgid "not yet"
msgstr ""
"""


def test_texts_plurals_contexts_and_lines_are_read() -> None:
    found = read_catalogue(PO)
    assert found["tray"] == "Schale"
    assert found["%(n)d tray\x00%(n)d trays"] == "%(n)d Schale\x00%(n)d Schalen"
    assert found["to a pot\x04ready"] == "verkaufsfertig"
    assert found["two lines\n"] == "zwei „Zeilen“\n"
    assert "unsure" not in found
    assert "not yet" not in found


def test_gettext_reads_what_is_compiled() -> None:
    """*cross-implementation*: the reader is Python's own gettext module."""
    words = gettext.GNUTranslations(io.BytesIO(compiled(read_catalogue(PO))))
    assert words.gettext("tray") == "Schale"
    assert words.ngettext("%(n)d tray", "%(n)d trays", 3) == "%(n)d Schalen"
    assert words.pgettext("to a pot", "ready") == "verkaufsfertig"
    assert words.gettext("two lines\n") == "zwei „Zeilen“\n"
    assert words.gettext("not yet") == "not yet"


@pytest.mark.parametrize("text", ['msgid "a"\nmsgstr oops', "what is this", 'msgid "a\nmsgstr "b"'])
def test_a_line_that_cannot_be_read_is_named(text: str) -> None:
    with pytest.raises(BadCatalogue, match="line"):
        read_catalogue(text)


def test_an_entry_that_stands_twice_is_named() -> None:
    with pytest.raises(BadCatalogue, match="'a' stands there twice"):
        read_catalogue('msgid "a"\nmsgstr "b"\n\nmsgid "a"\nmsgstr "c"\n')
