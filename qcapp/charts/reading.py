"""One reading on its limits, small enough for a table's cell."""

from qcapp.charts.frame import Scale

WIDTH, HEIGHT, MIDDLE, EDGE = 120, 24, 12, 6


def draw_reading(
    value: float, lower: float | None, nominal: float | None, upper: float | None
) -> str:
    """SVG: the allowed range as a bar, the reading as a dot. The figures stand beside it.

    lower, nominal, upper: the limits, None where there is none of that kind.
    """
    known = [end for end in (lower, upper, nominal, value) if end is not None]
    margin = (max(known) - min(known)) * 0.3 or abs(value) * 0.1 or 1
    scale = Scale(min(known) - margin, max(known) + margin, EDGE, WIDTH - EDGE)
    low, high = (
        fallback if limit is None else scale.place(limit)
        for limit, fallback in ((lower, EDGE), (upper, WIDTH - EDGE))
    )
    ends = "".join(
        f'<path class="limit" d="M{scale.place(limit):g} 4v16"/>'
        for limit in (lower, upper)
        if limit is not None
    )
    is_out = (lower is not None and value < lower) or (upper is not None and value > upper)
    where = "out" if is_out else "in"
    dot = f'<circle class="{where}" cx="{scale.place(value):g}" cy="{MIDDLE}" r="5"/>'
    bar = f'<rect class="allowed" x="{low:g}" y="8" width="{max(high - low, 1):g}" height="8"/>'
    return (
        f'<svg class="on-limits" viewBox="0 0 {WIDTH} {HEIGHT}" aria-hidden="true">'
        f'<path class="axis" d="M{EDGE} {MIDDLE}H{WIDTH - EDGE}"/>{bar}{ends}{dot}</svg>'
    )
