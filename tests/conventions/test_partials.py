"""Do the shared partials say what a person needs: which field, what is wrong, where to go on?"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from django import forms
from django.contrib.messages.storage.base import Message
from django.core.paginator import Paginator
from django.template.loader import render_to_string
from django.test import RequestFactory

ROOT = Path(__file__).resolve().parents[2]


class Sowing(forms.Form):
    sown_on = forms.DateField(label="Sown on")
    mass = forms.IntegerField(label="Spores used", help_text="Weigh the packet.", required=False)
    cover = forms.ChoiceField(
        label="Cover", widget=forms.RadioSelect, choices=[("closed", "closed"), ("off", "off")]
    )
    control = forms.BooleanField(label="Add an unsown tray", help_text="It shows stray spores.")
    photo = forms.FileField(label="Photo", required=False)


def filled(**data: Any) -> Sowing:
    form = Sowing(data)
    form.is_valid()
    return form


def field_html(form: Sowing, name: str, **more: Any) -> str:
    return render_to_string("batches/_form_field.html", {"field": form[name], **more})


def test_a_wrong_field_is_tied_to_its_error_and_its_help() -> None:
    html = field_html(filled(mass="<b>"), "mass", unit="mg")
    described = re.search(r'<input[^>]*aria-describedby="([^"]+)"', html)
    assert described is not None
    for target in described[1].split():
        assert f'id="{target}"' in html
    assert 'aria-invalid="true"' in html
    assert "Enter a whole number." in html
    assert "has-error" in html
    assert "mg</span>" in html
    assert "<b>" not in html


def test_every_kind_of_field_has_exactly_one_label_or_legend() -> None:
    form = Sowing()
    assert field_html(form, "sown_on").count("<label") == 1
    assert field_html(form, "control").count("<label") == 1
    assert '<label for="id_photo">' in field_html(form, "photo")
    assert "<fieldset" not in field_html(form, "photo")
    cover = field_html(form, "cover")
    assert cover.count("<legend") == 1
    assert cover.count("<fieldset") == cover.count("</fieldset>") == 1
    assert cover.count('type="radio"') == 2
    tiles = field_html(form, "cover", tiles=True)
    assert tiles.count('class="toggle"') == tiles.count('type="radio"') == 2
    assert tiles.count("<fieldset") == tiles.count("</fieldset>") == 1


def test_only_what_may_be_left_out_says_so() -> None:
    assert "(optional)" in field_html(Sowing(), "mass")
    assert "(optional)" not in field_html(Sowing(), "sown_on")


@pytest.mark.parametrize("name", ["sown_on", "mass", "cover", "control", "photo"])
@pytest.mark.parametrize("bound", [False, True])
def test_ids_in_a_field_are_unique(name: str, *, bound: bool) -> None:
    html = field_html(filled(mass="x") if bound else Sowing(), name)
    ids = re.findall(r'\bid="([^"]+)"', html)
    assert len(ids) == len(set(ids))


def test_errors_above_a_form_lead_to_their_fields() -> None:
    form = filled(mass="x", cover="closed", control="on")
    html = render_to_string("batches/_form_errors.html", {"form": form})
    page = html + "".join(field_html(form, field.name) for field in form)
    for target in re.findall(r'href="#([^"]+)"', html):
        assert f'id="{target}"' in page
    assert html.count("<li>") == 2
    assert "2 places to mend" in html
    assert 'role="alert"' in html


def test_a_form_without_errors_shows_no_summary() -> None:
    whole = filled(sown_on="2026-11-25", cover="closed", control="on")
    assert render_to_string("batches/_form_errors.html", {"form": whole}).strip() == ""
    assert render_to_string("batches/_form_errors.html", {"form": Sowing()}).strip() == ""


def test_a_glyph_beside_its_word_is_silent_and_one_alone_speaks() -> None:
    beside = render_to_string("batches/_glyph.html", {"name": "sown"})
    assert 'aria-hidden="true"' in beside
    assert "aria-label" not in beside
    assert "#glyph-sown" in beside
    alone = render_to_string(
        "batches/_glyph.html", {"name": "late", "word": "late", "size": "small"}
    )
    assert 'role="img" aria-label="late"' in alone
    assert 'class="glyph small"' in alone


def pager(number: int, *, rows: int = 120, **more: Any) -> str:
    page = Paginator(range(rows), 50).page(number)
    request = RequestFactory().get("/batches/", {"page": str(number), "fern": "OSMREG"})
    return render_to_string("batches/_pager.html", {"page": page, **more}, request)


def test_the_pager_keeps_the_filter_and_knows_both_ends() -> None:
    first, middle, last = pager(1), pager(2), pager(3, things="batches")
    assert "51–100 of 120 rows" in middle
    assert "101–120 of 120 batches" in last
    assert 'rel="prev"' not in first
    assert 'rel="next"' not in last
    assert "page=3" in middle
    assert middle.count("fern=OSMREG") == 2


def test_one_page_needs_no_pager() -> None:
    assert pager(1, rows=50).strip() == ""


def test_rows_found_by_key_have_a_way_on_without_a_count() -> None:
    html = render_to_string("batches/_pager.html", {"next_href": "?after=73"})
    assert 'href="?after=73"' in html
    assert " of " not in html


def test_an_empty_page_teaches_what_comes_next() -> None:
    steps = [
        {"word": "Write down a lot", "done": True},
        {"word": "Sow it", "href": "/sow/"},
        {"word": "Print its labels"},
    ]
    html = render_to_string(
        "batches/_empty.html",
        {"title": "No trays yet", "steps": steps, "href": "/sow/", "action": "Sow"},
    )
    assert html.index("Write down a lot (done)") < html.index('<a href="/sow/">Sow it</a>')
    assert html.index("Sow it") < html.index("Print its labels")
    assert '<a class="button" href="/sow/">Sow</a>' in html


def test_a_caution_is_a_note_with_a_name() -> None:
    html = render_to_string("batches/_caution.html", {"text": "Wet the mix first <dust>."})
    assert 'role="note" aria-label="Caution"' in html
    assert "&lt;dust&gt;" in html


def test_messages_are_read_out_politely_and_escaped() -> None:
    html = render_to_string(
        "batches/_messages.html", {"messages": [Message(40, "Not <i>read</i>")]}
    )
    assert 'role="status" aria-live="polite"' in html
    assert "&lt;i&gt;" in html
    assert "hx-swap-oob" not in html
    assert 'hx-swap-oob="true"' in render_to_string("batches/_messages.html", {"oob": True})


def test_the_base_page_stands_without_any_context() -> None:
    """The page for a fault of the program is rendered without request, person or database."""
    html = render_to_string("_base.html")
    assert '<html lang="en-GB">' in html
    assert html.count("<h1>") == 1
    assert 'href="#main"' in html
    assert '<main id="main" tabindex="-1">' in html
    assert 'action="/search/" method="get" role="search"' in html


def test_the_pages_of_the_header_come_from_the_list() -> None:
    nav = [
        {"href": "/", "word": "Today", "current": True, "apart": False},
        {"href": "/sow/", "word": "Sow", "current": False, "apart": False},
        {"href": "/records/", "word": "Records", "current": False, "apart": True},
    ]
    html = render_to_string("_base.html", {"nav": nav, "search_text": '"><script>'})
    assert html.count("aria-current") == 1
    assert '<a href="/" aria-current="page">Today</a>' in html
    assert html.index("More</button>") < html.index(">Records</a>")
    assert html.count("<ul") == html.count("</ul>")
    assert "&quot;&gt;&lt;script&gt;" in html
    short = render_to_string("_base.html", {"nav": nav[:2]})
    assert "More</button>" not in short


def test_the_vocabulary_names_every_shared_partial() -> None:
    vocabulary = (ROOT / "docs" / "look.md").read_text(encoding="utf-8")
    for path in (ROOT / "templates" / "batches").glob("_*.html"):
        assert path.name in vocabulary, path.name
