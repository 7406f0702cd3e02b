"""What is the QR of an address as a drawing inside a page that becomes a PDF?"""

from __future__ import annotations

from base64 import b64encode

from batches.labels.qr import QUIET, light_runs, matrix, plan_qr


def qr_image(url: str, *, side_mm: float = 20.0) -> str:
    """Return an image element of at most `side_mm`, its quiet zone included; vector, in itself.

    Raises LabelRefused when the address is too long for modules that print well.
    """
    plan = plan_qr(url, wished_mm=side_mm, most_mm=side_mm)
    whole, side = plan.modules + 2 * QUIET, f"{plan.side_mm:.3f}mm"
    light = "".join(
        f"M{x} {y}h{run}v1h-{run}"
        for x, y, run in light_runs(matrix(plan.segments, plan.version, plan.level))
    )
    drawing = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{side}" height="{side}"'
        f' viewBox="-{QUIET} -{QUIET} {whole} {whole}">'
        f'<path d="M0 0h{plan.modules}v{plan.modules}H0z" fill="#000"/>'
        f'<path d="{light}" fill="#fff"/></svg>'
    )
    packed = b64encode(drawing.encode("ascii")).decode("ascii")
    # A drawing in an address of its own is read twice as fast as one that stands in the page.
    return f'<img alt="" width="{side}" src="data:image/svg+xml;base64,{packed}">'
