"""What is the QR of an address as a drawing inside a page that becomes a PDF?"""

from __future__ import annotations

from batches.labels.qr import QUIET, light_runs, matrix, plan_qr


def qr_svg(url: str, *, side_mm: float = 20.0) -> str:
    """Return an SVG element of at most `side_mm`, its quiet zone included.

    Raises LabelRefused when the address is too long for modules that print well.
    """
    plan = plan_qr(url, wished_mm=side_mm, most_mm=side_mm)
    whole = plan.modules + 2 * QUIET
    light = "".join(
        f"M{x} {y}h{run}v1h-{run}z"
        for x, y, run in light_runs(matrix(plan.segments, plan.version, plan.level))
    )
    return (
        f'<svg width="{plan.side_mm:.3f}mm" height="{plan.side_mm:.3f}mm"'
        f' viewBox="-{QUIET} -{QUIET} {whole} {whole}">'
        f'<path d="M0 0h{plan.modules}v{plan.modules}H0z" fill="#000"/>'
        f'<path d="{light}" fill="#fff"/></svg>'
    )
