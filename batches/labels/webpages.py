"""How does a page of HTML (the morning's list, a round sheet, a trace) become a PDF?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from batches.labels.typesetting import font_configuration, font_css, only_data_fetcher


def write_html(html: str, target: Path, *, exact: bool) -> int:
    """Write the PDF of a whole HTML document to `target`; returns its number of pages.

    Only data: addresses are opened. What the page links to on disk or on a network stays out.
    `exact`: a viewer prints it at its own size and does not fit it to the paper.
    """
    import pydyf
    from weasyprint import HTML

    def at_its_own_size(_document: Any, pdf: Any) -> None:
        pdf.catalog["ViewerPreferences"] = pydyf.Dictionary({"PrintScaling": "/None"})

    document = HTML(string=html, url_fetcher=only_data_fetcher()).render(
        stylesheets=[font_css()], font_config=font_configuration()
    )
    with target.open("wb") as file:
        document.write_pdf(file, finisher=at_its_own_size if exact else None)
    return len(document.pages)
