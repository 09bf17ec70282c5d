"""Files damaged at random, and what must hold of every reader: it gives something sound, or says in one line what is
wrong.

A damaged file is made from a number alone, be it hypothesis that draws it or a program that counts.
"""

from __future__ import annotations

import io
import json
import random
import re
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import tomlkit
from laser_samples import layout_of, rich_part
from layouts import layout, put
from PIL import Image
from random_jobs import random_job, write_files
from shapely.geometry import box

from nesting.errors import FileError
from nesting.files.bring import read_any
from nesting.files.cameras import read_camera, write_camera
from nesting.files.hide_svg import read_hide_svg, write_hide_svg
from nesting.files.hides import hide_from_dict, hide_to_dict, read_hide
from nesting.files.layout import layout_to_dict, read_layout, read_stated, write_layout
from nesting.files.orders import read_orders
from nesting.files.pattern_svg import write_pattern
from nesting.files.patterns import read_pattern
from nesting.files.products import read_products
from nesting.files.swatch import read_swatch, write_swatch
from nesting.files.workshop import read_workshop
from nesting.laser.export import export
from nesting.laser.swatch import swatch
from nesting.model import Doubt, Hide, Reading, Setting, Zone
from nesting.referee.cut_files import read_cut_file
from nesting.referee.rules import check
from nesting.tracing.photo import load_photo, noted_camera
from nesting.tracing.scale import Camera

LONGEST_TOLD = 3000
WORDS = [
    *(
        "",
        "0",
        "-0",
        "1",
        "-1",
        "1e9",
        "1e308",
        "1e999",
        "-1e400",
        "nan",
        "NaN",
        "inf",
        "Infinity",
        "0.00001",
        "2e-320",
    ),
    *(
        "9" * 400,
        "0x10",
        "1_000",
        "1,5",
        "½",
        "٣",
        "true",
        "null",
        "None",
        "[]",
        "{}",
        "[[[]]]",
        '"',
        "'",
        "\\",
        "\x00",
    ),
    *("\ufeff", "\u202e", "\x1b[31m", "\r\n", "\n\n", "é", "\U0001f9f5", "../../etc/passwd", "CON", "-rf", " ", "\t"),
]
TOKENS = {
    "svg": [
        *(
            'transform="matrix(0 0 0 0 0 0)"',
            'transform="rotate(1e9)"',
            'transform="scale(1e-9)"',
            "<g>",
            "</g>",
            "Z",
            "z",
        ),
        *(
            'd="M"',
            'd="M0,0"',
            "A 0 0 0 0 0 1 1",
            "A 1e9 1 0 1 1 1 1",
            "C 1 1",
            "Q 1 1 2 2",
            "S 1 1 2 2",
            "T 5 5",
            "m",
            "h9",
        ),
        *(
            '<use href="#outline"/>',
            '<use href="#a" id="a"/>',
            '<clipPath id="c"/>',
            'viewBox="0 0 0 0"',
            'width="1e9in"',
        ),
        *(
            "<style>*{display:none}</style>",
            'style="stroke:url(#x)"',
            "<text>a</text>",
            "<!--",
            "]]>",
            "<![CDATA[",
            "&#0;",
        ),
        *(
            '<!DOCTYPE a [<!ENTITY b "c">]>',
            "&b;",
            'id="cutout"',
            'id="zone E"',
            'id="stitch"',
            'href="file:///etc/passwd"',
        ),
        *(
            '<svg x="9" width="5" height="5">',
            "</svg>",
            "<switch>",
            '<symbol id="s">',
            'preserveAspectRatio="none"',
            "%",
            "em",
        ),
    ],
    "dxf": [
        *(
            "0\nENDSEC\n",
            "0\nEOF\n",
            "0\nSECTION\n2\nENTITIES\n",
            "0\nLINE\n",
            "0\nCIRCLE\n",
            "0\nSPLINE\n",
            "0\nINSERT\n2\nX\n",
        ),
        *(
            "0\nLWPOLYLINE\n",
            "0\nARC\n",
            "0\nELLIPSE\n",
            "8\ncutout\n",
            "10\n1e300\n",
            "40\n0\n",
            "42\n1e300\n",
            "70\n1\n",
            "999\n",
        ),
        *(
            "9\n$INSUNITS\n70\n99\n",
            "210\n0\n",
            "41\n-1\n",
            "-5\nx\n",
            "0\nHATCH\n",
            "0\nTEXT\n",
            "1001\nA\n",
            "5\nFFFFFFFFFFFF\n",
        ),
    ],
    "json": [
        '"id"',
        '"outline"',
        "[1,2],",
        "[",
        "]",
        "{",
        "}",
        ":",
        ",",
        "1e",
        "-",
        '"\\ud800"',
        '"\\u0000"',
        "tru",
        "/*",
        "[" * 500,
    ],
    "toml": [
        "[",
        "[[",
        "]]",
        "=",
        '"""',
        "'''",
        "#",
        ".",
        "1979-05-27",
        "{a=1}",
        "inf",
        "+nan",
        "a.b.c.d = 1\n",
        "[[setting]]\n",
        "0o7",
    ],
    "csv": [
        ",",
        ";",
        '"',
        '""',
        "\t",
        "\r",
        "2026-02-30",
        "0000-00-00",
        "1e3",
        "order",
        "=1+1",
        "1,2,3,4,5,6,7,8,9,10",
    ],
}


@dataclass(frozen=True)
class Kind:
    """A kind of file: its samples, how it is read, and how it is damaged besides at random places."""

    ending: str
    samples: Callable[[], tuple[bytes, ...]]
    read: Callable[[Path], object]
    beside: Callable[[Path], None] = lambda folder: None


def damaged(kind: str, number: int) -> bytes:
    """A file of a kind, damaged; nearly each number gives another."""
    source = random.Random(f"{kind} {number}")
    one = KINDS[kind]
    samples = one.samples()
    content = source.choice(samples)
    if one.ending in ("json", "toml") and source.random() < 0.6:
        return _otherwise(source, one.ending, content)
    for _ in range(source.choice([0, 1, 1, 1, 2, 3, 6])):
        content = _changed(source, one.ending, content, samples)
    return content


def read_damaged(kind: str, content: bytes) -> str:
    """Read a file; the words of the refusal, empty where it was taken.

    Raises
    ------
    AssertionError
        When a refusal is no line that can be shown. Any exception but a FileError is a fault too.
    """
    with tempfile.TemporaryDirectory() as made:
        path = Path(made) / f"file.{KINDS[kind].ending}"
        path.write_bytes(content)
        KINDS[kind].beside(Path(made))
        try:
            KINDS[kind].read(path)
        except FileError as error:
            for one in error.all:
                told = str(one)
                assert told.isprintable() and told.strip() and len(told) < LONGEST_TOLD, repr(told[:600])
                assert all((one.place, str(one.value) is not None, one.mend)), repr(one)
            return str(error.all[0]).replace(made, "")
    return ""


def _changed(source: random.Random, ending: str, content: bytes, samples: tuple[bytes, ...]) -> bytes:
    """A file changed in one way."""
    size = len(content)
    at, end = sorted((source.randint(0, size), source.randint(0, size)))
    end = min(end, at + source.choice([1, 4, 30, 400]))
    way = source.choice(
        ["byte", "cut", "twice", "word", "word", "number", "number", "token", "token", "short", "other"]
    )
    if way == "byte" and size:
        place = source.randrange(size)
        return content[:place] + bytes([source.randrange(256)]) + content[place + 1 :]
    if way == "cut":
        return content[:at] + content[end:]
    if way == "twice":
        return content[:end] + content[at:end] * source.choice([1, 1, 2, 50, 1000]) + content[end:]
    if way == "number":
        numbers = list(re.finditer(rb"-?\d+\.?\d*", content))
        if numbers:
            found = source.choice(numbers)
            return content[: found.start()] + source.choice(WORDS).encode() + content[found.end() :]
    if way == "token":
        return content[:at] + source.choice(TOKENS.get(ending, WORDS)).encode() + content[at:]
    if way == "short":
        return content[:at]
    if way == "other":
        other = source.choice(samples)
        return content[:at] + other[source.randint(0, len(other)) :]
    return content[:at] + source.choice(WORDS).encode() + content[end:]


def _otherwise(source: random.Random, ending: str, content: bytes) -> bytes:
    """A file of keys and values with one or two of these put, taken or changed."""
    data = json.loads(content) if ending == "json" else tomlkit.parse(content.decode()).unwrap()
    for _ in range(source.choice([1, 1, 2])):
        spots = list(_spots(data))
        holder, key = source.choice(spots)
        way = source.choice(["value", "value", "value", "drop", "copy", "key"])
        if way == "value":
            holder[key] = _value(source, holder[key], ending)
        elif way == "drop":
            del holder[key]
        elif way == "copy" and isinstance(holder, list):
            holder.insert(key, holder[key])
        elif isinstance(holder, dict):
            holder[source.choice(["", "x", "zone", "Outline", "a b", "\x1b", "format"])] = holder[key]
        if not data:
            break
    try:
        return (json.dumps(data) if ending == "json" else tomlkit.dumps(data)).encode("utf-8", "surrogatepass")
    except (TypeError, ValueError, AttributeError):
        # a list of tables with something else in it has no form in TOML
        return content[: source.randint(0, len(content))]


def _spots(data: Any) -> Any:
    """Every place in nested lists and tables, those of long lists only now and then."""
    keys = list(data) if isinstance(data, dict) else range(0, len(data), max(1, len(data) // 6))
    for key in keys:
        yield data, key
        if isinstance(data[key], (dict, list)):
            yield from _spots(data[key])


def _value(source: random.Random, old: Any, ending: str) -> Any:
    if isinstance(old, (int, float)) and not isinstance(old, bool) and source.random() < 0.5:
        return source.choice([old + 0.00004, -old, old * 1000, old / 1000, old + 1, 0, 1e9, -1e9, 10**30, 0.5, 1e-12])
    others: list[Any] = ["", "x", " x ", "A", True, False, 0, -1, 3.5, 1e12, [], {}, [[]], [0, 0], [[0, 0]] * 3]
    others += [
        "\x1b[31m",
        "\u202eabc",
        "a" * 3000,
        "1 in",
        "1/16 in",
        "4-5 oz",
        "$5",
        "1e400",
        "vegetable",
        "2026-01-01",
    ]
    others += [None, [[0, 0], [1, 0], [1, 1], [0, 1]], [[0, 0], [9, 9], [9, 0], [0, 9]]] if ending == "json" else []
    return source.choice(others)


def _hide() -> Hide:
    zones = (Zone(box(10, 10, 60, 40), "C", "scar"), Zone(box(200, 0, 300, 60), "E", "belly"))
    readings = tuple(Reading(x, y, 1.4) for x in (20, 250) for y in (30, 150))
    doubts = (Doubt(box(100, 100, 120, 104), "slit", 20.0, "look", 1, (5.0, 6.0)),)
    outline = box(0, 0, 300, 200).difference(box(140, 90, 150, 110))
    return Hide("h", outline, zones, readings, 1.4, ((0, 100), (300, 110)), "vegetable", doubts=doubts)


@cache
def _jobs() -> tuple[dict[str, str], ...]:
    return tuple(random_job(random.Random(number), 12) for number in (5, 8, 13))


def _of_jobs(pattern: str) -> Callable[[], tuple[bytes, ...]]:
    def samples() -> tuple[bytes, ...]:
        return tuple(text.encode() for job in _jobs() for name, text in job.items() if re.fullmatch(pattern, name))

    return samples


@cache
def _written(write: Callable[[Path], Path | None], ending: str) -> bytes:
    with tempfile.TemporaryDirectory() as made:
        path = Path(made) / f"file.{ending}"
        return (write(path) or path).read_bytes()


_SVG = """<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="8in" height="100mm"
 viewBox="0 0 203.2 100"><defs><path id="shape" d="M0 0h20v10h-20z"/></defs><style>.cut{stroke:red}</style>
<g id="tag" transform="translate(10,10) rotate(5)"><rect id="outline" width="60" height="40" rx="4"/>
<circle id="cutout-1" cx="30" cy="20" r="3"/><ellipse id="engrave-1" class="cut" cx="15" cy="10" rx="4" ry="2"/>
<path id="stitch" d="M 5 5 L 5 8 M 5 10 L 5 13"/>
<path id="engrave" d="M10 30 c 5,-5 10,5 15,0 s5 5 9 0 q 2 2 3 0 t 3 0"/>
<path id="zone C" d="M0 0H10V40H0Z"/></g>
<g id="flap"><use id="outline-2" xlink:href="#shape" x="90" y="20"/></g></svg>"""


def _dxf(path: Path) -> None:
    import ezdxf

    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    for layer in ("outline", "cutout", "stitch", "engrave"):
        document.layers.add(layer)
    space.add_lwpolyline([(0, 0), (60, 0, 0, 0, 0.3), (60, 40), (0, 40)], close=True, dxfattribs={"layer": "outline"})
    space.add_circle((20, 20), 4, dxfattribs={"layer": "cutout"})
    space.add_line((5, 5), (5, 8), dxfattribs={"layer": "stitch"})
    space.add_arc((40, 20), 5, 10, 200, dxfattribs={"layer": "engrave"})
    space.add_spline([(30, 5), (35, 9), (40, 5), (45, 8)], dxfattribs={"layer": "engrave"})
    space.add_ellipse((30, 32), (5, 0), 0.5, dxfattribs={"layer": "cutout"})
    block = document.blocks.new("dot")
    block.add_circle((0, 0), 0.5, dxfattribs={"layer": "stitch"})
    space.add_blockref("dot", (10, 10), dxfattribs={"rotation": 30})
    document.saveas(path)


def _pdf(path: Path) -> None:
    from reportlab.pdfgen import canvas

    page = canvas.Canvas(str(path), pagesize=(300, 200), pageCompression=0)
    page.rect(20, 20, 200, 100)
    page.circle(100, 70, 10)
    page.bezier(120, 60, 130, 90, 140, 30, 150, 60)
    page.save()


def _cut(path: Path) -> Path:
    return export(layout_of([rich_part()]), path.parent / "cut", kind=path.suffix[1:]).files[0]


def _layout(path: Path) -> None:
    write_layout(path, layout(put(), put(x=120, angle=25, piece=2)), {})


def _photos() -> tuple[bytes, ...]:
    found = []
    shades = bytes(random.Random(1).randrange(256) for _ in range(80 * 70 * 3))
    picture = Image.frombytes("RGB", (80, 70), shades).resize((96, 80))
    for form, mode in (
        ("JPEG", "RGB"),
        ("PNG", "RGBA"),
        ("TIFF", "RGB"),
        ("WEBP", "RGB"),
        ("BMP", "RGB"),
        ("PNG", "I;16"),
    ):
        stream, notes = io.BytesIO(), Image.Exif()
        notes[0x0112] = 6
        notes.get_ifd(0x8769)[0x920A] = 4.5
        (picture.convert("I").convert("I;16") if mode == "I;16" else picture.convert(mode)).save(
            stream, form, exif=notes
        )
        found.append(stream.getvalue())
    return tuple(found)


def _read_photo(path: Path) -> None:
    picture = load_photo(path)
    assert picture.ndim == 3 and picture.shape[2] == 3
    noted_camera(path)


def _read_hide(path: Path) -> None:
    hide = read_hide(path, "EUR")
    again = hide_from_dict(json.loads(json.dumps(hide_to_dict(hide), default=str)), "again", "", "EUR")
    assert again.outline.equals(hide.outline) and len(again.zones) == len(hide.zones)


def _read_layout(path: Path) -> None:
    read_stated(path)
    made = read_layout(path)
    check(made)
    layout_to_dict(made)
    write_layout(path.with_name("again.json"), made, {})


def _read_drawing(path: Path) -> None:
    drawing = read_any(path)
    if drawing.parts:
        target = path.with_name("again.svg")
        write_pattern(target, drawing)
        assert [part.name for part in read_pattern(target)] == [part.name for part in drawing.parts]


def _job_beside(folder: Path) -> None:
    write_files({name: text for name, text in _jobs()[0].items() if name.startswith("patterns")}, folder)


def _camera(path: Path) -> None:
    write_camera(path, Camera((0.1, 0.0), (0.01, 0.01), 0.9, 0.01), 0.5, 4)


def _drawn_hide(path: Path) -> None:
    write_hide_svg(path, _hide())


def _hides() -> tuple[bytes, ...]:
    return (json.dumps(hide_to_dict(_hide()), default=str).encode(), *_of_jobs("hides.*")())


def _once(write: Callable[[Path], Path | None], ending: str) -> Callable[[], tuple[bytes, ...]]:
    """The one sample that a function writes."""
    return lambda: (_written(write, ending),)


def _swatch(path: Path) -> None:
    setting = Setting("s", 1.5, 10, 60, 2, 1.3, 1.7)
    write_swatch(path, swatch(setting), setting, layout().workshop)


KINDS = {
    "svg pattern": Kind("svg", lambda: (_SVG.encode(), *_of_jobs("patterns.*")()), _read_drawing),
    "dxf": Kind("dxf", lambda: (_written(_dxf, "dxf"), _written(_cut, "dxf")), _read_drawing),
    "pdf": Kind("pdf", _once(_pdf, "pdf"), _read_drawing),
    "hide": Kind("json", _hides, _read_hide),
    "layout": Kind("json", _once(_layout, "json"), _read_layout),
    "camera": Kind("json", _once(_camera, "json"), read_camera),
    "workshop": Kind("toml", _of_jobs("workshop.toml"), read_workshop),
    "products": Kind("toml", lambda: _of_jobs("products.toml")()[:1], read_products, _job_beside),
    "orders": Kind(
        "csv", _of_jobs("orders.csv"), lambda path: read_orders(path, ["product 1", "product 2", "product 3"])
    ),
    "hide svg": Kind("svg", _once(_drawn_hide, "svg"), lambda path: read_hide_svg(path, _hide())),
    "swatch": Kind("svg", _once(_swatch, "svg"), read_swatch),
    "cut svg": Kind("svg", _once(_cut, "svg"), read_cut_file),
    "cut dxf": Kind("dxf", _once(_cut, "dxf"), read_cut_file),
    "photo": Kind("photo", _photos, _read_photo),
}
"""Every kind of file that is read."""
