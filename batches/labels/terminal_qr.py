"""How does a QR symbol look in a terminal, for a tablet's camera to read?"""

from __future__ import annotations

import io


def qr_in_terminal(address: str) -> str:
    """Return the symbol of an address in half blocks, two rows of modules to a line of text."""
    import segno

    out = io.StringIO()
    segno.make(address, error="l", micro=False).terminal(out=out, border=4, compact=True)
    return out.getvalue()
