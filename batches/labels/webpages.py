"""How does a page of HTML (the morning's list, a round sheet, a trace) become a PDF?"""

from __future__ import annotations

from pathlib import Path

from batches.labels.typesetting import font_configuration, font_css, only_data_fetcher


def write_html(html: str, target: Path) -> int:
    """Write the PDF of a whole HTML document to `target`; returns its number of pages.

    Only data: addresses are opened. What the page links to on disk or on a network stays out.
    """
    from weasyprint import HTML

    document = HTML(string=html, url_fetcher=only_data_fetcher()).render(
        stylesheets=[font_css()], font_config=font_configuration()
    )
    with target.open("wb") as file:
        document.write_pdf(file)
    return len(document.pages)
