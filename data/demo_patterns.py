"""The patterns of the invented workshop, drawn at real size in the different ways that drawing programs write SVG."""

from __future__ import annotations

import math

import numpy as np

CURVE = 0.5523
"""Length of the handles of a cubic quarter circle, as a share of its radius."""
HOLE_MM = 1.0
STITCH_INSET_MM = 3.0


def patterns() -> dict[str, str]:
    """File name and SVG text of every pattern."""
    return {
        "card-holder.svg": _card_holder(),
        "key-fob.svg": _key_fob(),
        "watch-strap.svg": _watch_strap(),
        "notebook-cover.svg": _notebook_cover(),
        "bag-handle.svg": _bag_handle(),
        "glasses-case.svg": _glasses_case(),
        "coaster.svg": _coaster(),
        "shears-holster.svg": _shears_holster(),
        "cable-tidy.svg": _cable_tidy(),
        "coin-tray.svg": _coin_tray(),
    }


def _card_holder() -> str:
    """Absolute cubic curves; one circle a stitch hole; labels are ids."""
    parts = []
    for number, (name, x, y, height, notch) in enumerate(
        (("front", 8, 8, 76, 13), ("back", 122, 8, 76, 0), ("pocket", 8, 94, 52, 9)), 1
    ):
        sides = _rounded([(x, y, 4), (x + 104, y, 4), (x + 104, y + height, 8), (x, y + height, 8)])
        # Sides, lower corners and bottom: everything but the top with its two corners, counted clockwise on the page.
        seam = sides[2:7]
        outline = sides
        if notch:
            middle = x + 52
            bay = [
                ((x + 4, y), (middle - 22, y), (middle - 22, y), (middle - 22, y)),
                ((middle - 22, y), (middle - 14, y), (middle - 14, y + notch), (middle, y + notch)),
                ((middle, y + notch), (middle + 14, y + notch), (middle + 14, y), (middle + 22, y)),
                ((middle + 22, y), (x + 100, y), (x + 100, y), (x + 100, y)),
            ]
            outline = [_line(bay[0][0], bay[0][3]), bay[1], bay[2], _line(bay[3][0], bay[3][3]), *sides[1:]]
        places = _every(seam, 4.0, STITCH_INSET_MM, ends=3.0)
        holes = _circles(places, HOLE_MM / 2)
        lines = [_path(f"outline-{number}", outline), f'<g id="stitch-{number}">{holes}</g>']
        parts.append(_group(f'id="{name}"', lines))
    return _svg(234, 154, "mm", 1.0, parts)


def _key_fob() -> str:
    """Drawn in inches; labels are title elements; the engraving is a group of strokes."""
    inch = 1 / 25.4
    outline = [
        *_smooth_path(
            (6, 24), [((6, 12), (20, 14), (30, 12)), ((48, 8.5), (66, 6), (88, 6)), ((102, 6), (110, 14), (110, 24))]
        ),
        *_smooth_path(
            (110, 24),
            [((110, 34), (102, 42), (88, 42)), ((66, 42), (48, 39.5), (30, 36)), ((20, 34), (6, 36), (6, 24))],
        ),
    ]
    leaf = [((62, 24), (68, 12), (86, 12), (98, 24)), ((98, 24), (86, 36), (68, 36), (62, 24))]
    strokes = [
        _path(None, leaf, inch, digits=5),
        _path(None, [((52, 25.5), (64, 23.2), (80, 24.6), (98, 24))], inch, close=False, digits=5),
    ]
    for x, up in ((69, 4.6), (76, 6.4), (83, 5.6)):
        for side in (-1, 1):
            vein = [((x, 24), (x + 3, 24 + side * up * 0.5), (x + 5, 24 + side * up * 0.8), (x + 7, 24 + side * up))]
            strokes.append(_path(None, vein, inch, close=False, digits=5))
    holes = _circles(_every(outline, 4.0, STITCH_INSET_MM), HOLE_MM / 2, inch, digits=5)
    lines = [
        "<title>fob</title>",
        _path(None, outline, inch, digits=5, inside="<title>outline</title>"),
        f'<circle cx="{20 * inch:.5f}" cy="{24 * inch:.5f}" r="{3 * inch:.5f}"><title>cutout</title></circle>',
        f"<g><title>stitch</title>{holes}</g>",
        f"<g><title>engrave</title>{''.join(strokes)}</g>",
    ]
    return _svg(116, 48, "in", inch, [_group("", lines)], digits=4)


def _watch_strap() -> str:
    """Each strap half drawn at its own origin and moved by a transform; one hole drawn once and used many times."""
    long = [
        _line((0, -11), (14, -11)), ((14, -11), (50, -11), (70, -9), (104, -9)),
        ((104, -9), (116, -9), (121, -6), (124, 0)),
        ((124, 0), (121, 6), (116, 9), (104, 9)), ((104, 9), (70, 9), (50, 11), (14, 11)), _line((14, 11), (0, 11)),
        _line((0, 11), (0, -11)),
    ]  # fmt: skip
    short = [
        _line((0, -11), (14, -11)), ((14, -11), (34, -11), (48, -9), (62, -9)), _line((62, -9), (82, -9)),
        _line((82, -9), (82, 9)),
        _line((82, 9), (62, 9)), ((62, 9), (48, 9), (34, 11), (14, 11)), _line((14, 11), (0, 11)),
        _line((0, 11), (0, -11)),
    ]  # fmt: skip
    define = '<defs><circle id="hole" r="0.5"/><circle id="buckle-hole" r="1"/></defs>'

    def uses(places):
        return "".join(f'<use href="#hole" x="{x:.2f}" y="{y:.2f}"/>' for x, y in places)

    holes = "".join(f'<use href="#buckle-hole" x="{x}" y="0"/>' for x in range(63, 106, 7))
    slot = "M 70,-1.5 h 8 a 1.5,1.5 0 0 1 0,3 h -8 a 1.5,1.5 0 0 1 0,-3 z"
    far = _group(
        'id="long" transform="translate(10 20)"',
        [
            _path("outline", long),
            f'<g id="stitch">{uses(_every(long[1:2], 4.0, 2.5, ends=2.0) + _every(long[4:5], 4.0, 2.5, ends=2.0))}</g>',
            f'<g id="cutout">{holes}</g>',
        ],
    )
    seams = _every(short[1:3], 4.0, 2.5, ends=10.0) + _every(short[4:6], 4.0, 2.5, ends=10.0)
    near = _group(
        'id="short" transform="matrix(-1 0 0 -1 102 52)"',
        [
            _path("outline-2", short),
            f'<path id="cutout-2" d="{slot}"/>',
            f'<g id="stitch-2">{uses(seams)}</g>',
        ],
    )
    return _svg(146, 72, "mm", 1.0, [define, far, near])


def _notebook_cover() -> str:
    """A rounded rect for an outline; stitch slits as open strokes; the turned-in flaps are zones of a lower grade."""
    width, height, flap, radius = 322, 222, 42, 9
    edge = _rounded([(0, 0, radius), (width, 0, radius), (width, height, radius), (0, height, radius)])
    slits = []
    for segments in (_flap_seam(edge, False, flap), _flap_seam(edge, True, flap)):
        for (x, y), (u, v) in _every(segments, 5.0, STITCH_INSET_MM, along=True):
            # Slanted as a pricking iron sets them: 45 degrees to the seam.
            du, dv = 1.2 * (u - v) / math.sqrt(2), 1.2 * (v + u) / math.sqrt(2)
            slits.append(f"M {x - du:.2f},{y - dv:.2f} L {x + du:.2f},{y + dv:.2f}")
    left = (
        f"M {flap},0 V {height} H {radius} A {radius},{radius} 0 0 1 0,{height - radius} "
        f"V {radius} A {radius},{radius} 0 0 1 {radius},0 Z"
    )
    right = (
        f"M {width - flap},0 H {width - radius} A {radius},{radius} 0 0 1 {width},{radius} V {height - radius} "
        f"A {radius},{radius} 0 0 1 {width - radius},{height} H {width - flap} Z"
    )
    lines = [
        f'<rect id="outline" width="{width}" height="{height}" rx="{radius}"/>',
        f'<path id="zone-C-1" d="{left}"/>',
        f'<path id="zone-C-2" d="{right}"/>',
        f'<path id="stitch" d="{" ".join(slits)}"/>',
        f'<circle id="cutout-1" cx="{width - 56}" cy="14" r="2"/>',
        f'<circle id="cutout-2" cx="{width - 56}" cy="{height - 14}" r="2"/>',
        f'<path id="engrave" d="M {width / 2 - 8},12 V {height - 12} M {width / 2 + 8},12 V {height - 12}"/>',
    ]
    return _svg(342, 242, "mm", 1.0, [_group('id="cover" transform="translate(10 10)"', lines)])


def _flap_seam(edge, right: bool, flap: float):
    """The edge of a rounded rectangle within ``flap`` of its left or right end, clockwise on the page."""
    top, top_right, end, low_right, low, low_left, start, top_left = edge
    if right:
        fold = top_right[3][0] - flap + 4
        return [_line((fold, top[3][1]), top[3]), top_right, end, low_right, _line(low[0], (fold, low[0][1]))]
    fold = low_left[3][0] + flap - 4
    return [_line((fold, low[3][1]), low[3]), low_left, start, top_left, _line(top[0], (fold, top[0][1]))]


def _bag_handle() -> str:
    """Drawn in centimetres with relative path commands; labels are attributes of a namespace of their own."""
    outline = (
        "m 1.4,0 h 35.2 c 0.773,0 1.4,0.627 1.4,1.4 0,0.773 -0.627,1.4 -1.4,1.4 "
        "h -35.2 c -0.773,0 -1.4,-0.627 -1.4,-1.4 0,-0.773 0.627,-1.4 1.4,-1.4 z"
    )
    holes = "".join(
        f'<circle cx="{x:.2f}" cy="1.4" r="0.2"/>'
        for end in (0, 38)
        for x in (abs(end - 1.2), abs(end - 3.2), abs(end - 5.2))
    )
    lines = [
        f'<path d:label="outline" d="{outline}"/>',
        f'<g d:label="cutout">{holes}</g>',
        '<g d:label="engrave"><path d="m 6.5,0.35 h 25"/><path d="m 6.5,2.45 h 25"/></g>',
    ]
    return _svg(
        400,
        48,
        "cm",
        0.1,
        [_group('d:label="handle" transform="translate(1 1)"', lines)],
        more=' xmlns:d="urn:drawing"',
    )


def _glasses_case() -> str:
    """Curved all round; the back carries a flap that closes over the front, and a strip that is folded under."""
    front = [
        _line((12, 14), (164, 14)), ((164, 14), (170, 14), (174, 18), (174, 24)),
        ((174, 24), (176, 50), (170, 80), (142, 88)),
        ((142, 88), (110, 94), (66, 94), (34, 88)), ((34, 88), (6, 80), (0, 50), (2, 24)),
        ((2, 24), (2, 18), (6, 14), (12, 14)),
    ]  # fmt: skip
    back = [
        ((2, 60), (2, 34), (20, 14), (58, 11)), ((58, 11), (78, 9.5), (98, 9.5), (118, 11)),
        ((118, 11), (156, 14), (174, 34), (174, 60)),
        ((174, 60), (176, 86), (170, 116), (142, 124)), ((142, 124), (110, 130), (66, 130), (34, 124)),
        ((34, 124), (6, 116), (0, 86), (2, 60)),
    ]  # fmt: skip
    under = [
        ((58, 11), (78, 9.5), (98, 9.5), (118, 11)), ((118, 11), (129.4, 11.9), (139, 14.3), (147, 18)),
        ((147, 18), (122, 27), (54, 27), (29, 18)), ((29, 18), (37, 14.3), (46.6, 11.9), (58, 11)),
    ]  # fmt: skip
    parts = [
        _group(
            'id="front" transform="translate(6 -4)"',
            [_path("outline-1", front), f'<g id="stitch-1">{_circles(_every(front[2:5], 4.0, 3.0), HOLE_MM / 2)}</g>'],
        ),
        _group(
            'id="back" transform="translate(6 92)"',
            [
                _path("outline-2", back),
                _path("zone-C", under),
                f'<g id="stitch-2">{_circles(_every(back[3:6], 4.0, 3.0), HOLE_MM / 2)}</g>',
                '<circle id="cutout" cx="88" cy="17.5" r="1.6"/>',
            ],
        ),
    ]
    return _svg(188, 230, "mm", 1.0, parts)


def _coaster() -> str:
    """A circle and an engraved ring of small leaves, each the same stroke turned about the middle."""
    leaf = "M 0,-40 C 4,-35 4,-30 0,-25 C -4,-30 -4,-35 0,-40 Z M 0,-40 L 0,-25"
    ring = "".join(f'<path transform="rotate({turn})" d="{leaf}"/>' for turn in range(0, 360, 30))
    lines = [
        '<circle id="outline" r="48"/>',
        f'<g id="engrave"><circle r="43.5"/><ellipse rx="21.5" ry="21.5"/>{ring}</g>',
    ]
    return _svg(108, 108, "mm", 1.0, [_group('id="coaster" transform="translate(54 54)"', lines)])


def _shears_holster() -> str:
    """One side only: the other is its mirrored twin, so that both show the grain. Belt slots and one curved seam."""
    outline = [
        ((8, 20), (8, 14), (12, 10), (18, 10)), _line((18, 10), (84, 10)), ((84, 10), (92, 10), (94, 22), (104, 24)),
        ((104, 24), (136, 30), (176, 40), (210, 50)), ((210, 50), (222, 54), (222, 70), (210, 72)),
        ((210, 72), (170, 80), (130, 90), (84, 92)), ((84, 92), (62, 93), (40, 93), (18, 92)),
        ((18, 92), (12, 92), (8, 88), (8, 82)),
        _line((8, 82), (8, 20)),
    ]  # fmt: skip
    slot = "M {x},34 v 34 a 2,2 0 0 0 4,0 v -34 a 2,2 0 0 0 -4,0 z"
    lines = [
        _path("outline", outline),
        f'<g id="stitch">{_circles(_every(outline[3:7], 4.0, STITCH_INSET_MM), HOLE_MM / 2)}</g>',
        f'<g id="cutout"><path d="{slot.format(x=26)}"/><path d="{slot.format(x=52)}"/></g>',
    ]
    return _svg(226, 102, "mm", 1.0, [_group('id="side"', lines)])


def _cable_tidy() -> str:
    """A filler: arcs for the round ends, a hole and a slit that the narrow end goes through."""
    outline = "M 16,6 A 10,10 0 0 0 16,26 H 74 L 84,22.5 H 98 A 6.5,6.5 0 0 0 98,9.5 H 84 L 74,6 Z"
    lines = [
        f'<path id="outline" d="{outline}"/>',
        '<rect id="cutout-1" x="12" y="8.5" width="2.4" height="15" rx="1.2"/>',
        '<circle id="cutout-2" cx="96" cy="16" r="2.2"/>',
    ]
    return _svg(112, 32, "mm", 1.0, [_group('id="tidy"', lines)])


def _coin_tray() -> str:
    """A filler: a square whose corners are pinched together by a stud through two holes each."""
    sides = _rounded([(6, 6, 10), (96, 6, 10), (96, 96, 10), (6, 96, 10)])
    holes = "".join(
        f'<circle cx="{51 + sx * dx}" cy="{51 + sy * dy}" r="1.75"/>'
        for sx in (-1, 1)
        for sy in (-1, 1)
        for dx, dy in ((38, 24), (24, 38))
    )
    points = " ".join(f"{x},{y}" for x, y in ((27, 33), (69, 33), (69, 69), (27, 69)))
    lines = [_path("outline", sides), f'<g id="cutout">{holes}</g>', f'<polygon id="engrave" points="{points}"/>']
    return _svg(102, 102, "mm", 1.0, [_group('id="tray"', lines)])


def _svg(width_mm, height_mm, unit, per_mm, parts, more="", digits=3) -> str:
    """A drawing of the given size in mm, its user units the given unit."""
    width, height = (f"{round(side * per_mm, digits):g}" for side in (width_mm, height_mm))
    thin = f"{0.2 * per_mm:.4g}"
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg"{more} width="{width}{unit}" height="{height}{unit}" '
        f'viewBox="0 0 {width} {height}" fill="none" stroke="#222222" stroke-width="{thin}">'
    )
    return "\n".join([head, *parts, "</svg>", ""])


def _group(attributes: str, lines: list[str]) -> str:
    return "\n".join([f"  <g {attributes}>".replace(" >", ">"), *(f"    {line}" for line in lines), "  </g>"])


def _path(label, segments, per_mm=1.0, close=True, digits=3, inside="") -> str:
    """A path element of cubic and straight segments."""

    def number(point):
        return ",".join(f"{round(value * per_mm, digits) + 0.0:g}" for value in point)

    d = [f"M {number(segments[0][0])}"]
    for start, *handles, end in segments:
        d.append(
            f"C {number(handles[0])} {number(handles[1])} {number(end)}"
            if not _straight(start, *handles, end)
            else f"L {number(end)}"
        )
    text = " ".join([*d, "Z"] if close else d)
    name = f'id="{label}" ' if label else ""
    return f'<path {name}d="{text}">{inside}</path>' if inside else f'<path {name}d="{text}"/>'


def _circles(places, radius, per_mm=1.0, digits=2) -> str:
    return "".join(
        f'<circle cx="{x * per_mm:.{digits}f}" cy="{y * per_mm:.{digits}f}" r="{radius * per_mm:.{max(digits, 2)}g}"/>'
        for x, y in places
    )


def _line(start, end):
    """A straight segment, written as a cubic whose handles lie on its ends."""
    return (start, start, end, end)


def _straight(start, first, second, end) -> bool:
    return first == start and second == end


def _smooth_path(start, steps):
    segments = []
    for first, second, end in steps:
        segments.append((start, first, second, end))
        start = end
    return segments


def _rounded(corners):
    """Edges and round corners of a polygon of right angles, clockwise on the page, from the first corner's end.

    ``corners`` are (x, y, radius). The answer alternates: edge, corner, edge, corner, and so on.
    """
    segments = []
    count = len(corners)
    for index in range(count):
        (ax, ay, ar), (bx, by, br), (cx, cy, _) = (corners[(index + step) % count] for step in range(3))
        u, v = _unit(bx - ax, by - ay)
        p, q = _unit(cx - bx, cy - by)
        start, end = (ax + ar * u, ay + ar * v), (bx - br * u, by - br * v)
        after = (bx + br * p, by + br * q)
        hold = br * (1 - CURVE)
        segments += [_line(start, end), (end, (bx - hold * u, by - hold * v), (bx + hold * p, by + hold * q), after)]
    return segments


def _unit(x, y):
    length = math.hypot(x, y)
    return x / length, y / length


def _every(segments, pitch, inset, ends=0.0, along=False):
    """Places every ``pitch`` mm on a line ``inset`` mm inside segments that run clockwise on the page.

    A closed line is divided evenly; on an open one they are counted from its middle, to ``ends`` mm from its tips. With
    ``along`` each place comes with the direction of the line there.
    """
    t = np.linspace(0, 1, 201)[:, None]
    points, turns = [], []
    for segment in segments:
        a, b, c, d = (np.array(corner, float) for corner in segment)
        if _straight(*segment):
            points.append(a + (d - a) * t)
            turns.append(np.repeat([d - a], len(t), axis=0))
        else:
            points.append(a * (1 - t) ** 3 + 3 * b * t * (1 - t) ** 2 + 3 * c * t**2 * (1 - t) + d * t**3)
            turns.append((b - a) * (1 - t) ** 2 + 2 * (c - b) * t * (1 - t) + (d - c) * t**2)
    turns = np.vstack(turns)
    turns /= np.hypot(*turns.T)[:, None]
    line = np.vstack(points) + inset * np.column_stack([-turns[:, 1], turns[:, 0]])
    walked = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    total = walked[-1]
    if np.allclose(line[0], line[-1]):
        count = round(total / pitch)
        at = np.arange(count) * total / count
    else:
        count = math.floor((total / 2 - ends) / pitch)
        at = total / 2 + pitch * np.arange(-count, count + 1)
    places = np.column_stack([np.interp(at, walked, line[:, axis]) for axis in (0, 1)]).tolist()
    if not along:
        return places
    return list(zip(places, np.column_stack([np.interp(at, walked, turns[:, axis]) for axis in (0, 1)]).tolist()))
