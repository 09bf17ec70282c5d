import gzip

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.errors import FileError
from nesting.files.patterns import read_pattern
from nesting.files.svg_source import load_svg

PART = '<g id="strap"><rect id="outline" width="60" height="40"/></g>'
SVG = f'<svg xmlns="http://www.w3.org/2000/svg" width="99mm" height="99mm" viewBox="0 0 99 99">{PART}</svg>'
PLAIN = '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN"\n "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">'


def refusal(folder, content):
    path = folder / "x.svg"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    with pytest.raises(FileError) as caught:
        read_pattern(path)
    assert all(str(fault).isprintable() for fault in caught.value.all)
    assert len(str(caught.value).encode()) < 1000
    return caught.value


@pytest.mark.parametrize(
    "content",
    [
        SVG.encode(),
        b"\xef\xbb\xbf" + SVG.encode(),
        ('<?xml version="1.0" encoding="UTF-16"?>' + SVG).encode("utf-16"),
        ('<?xml version="1.0" encoding="windows-1252"?><!-- \xe9 -->' + SVG).encode("cp1252"),
        f'<?xml version="1.0" standalone="no"?>{PLAIN}<!-- made by an editor -->{SVG}'.encode(),
        SVG.replace(' xmlns="http://www.w3.org/2000/svg"', "").encode(),
        SVG.replace("xmlns", "xmlns:s").replace("<", "<s:").replace("<s:/", "</s:").encode(),
    ],
)
def test_harmless_files_of_any_editor_are_read(tmp_path, content):
    path = tmp_path / "x.svg"
    path.write_bytes(content)
    assert [part.name for part in read_pattern(path)] == ["strap"]


def test_a_billion_laughs_are_refused(tmp_path):
    levels = "".join(f'<!ENTITY l{i} "{f"&l{i - 1};" * 10}">' for i in range(1, 10))
    doctype = f'<!DOCTYPE svg [<!ENTITY l0 "ha">{levels}]>'
    assert "declares a document type" in refusal(tmp_path, doctype + SVG.replace(PART, "&l9;")).value


@pytest.mark.parametrize(
    "doctype",
    [
        '<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]>',
        '<!DOCTYPE svg [<!ENTITY % x SYSTEM "http://example.org/x.dtd"> %x;]>',
        '<!DOCTYPE svg SYSTEM "http://example.org/x.dtd">',
        '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://example.org/svg11.dtd">',
        PLAIN.replace(">", "[<!ENTITY ns 'http://ns.example.org'>]>"),
        '<!DOCTYPE svg [<!ATTLIST rect width CDATA "9">]>',
        PLAIN + "<!DOCTYPE svg>",
    ],
)
def test_a_document_type_of_its_own_is_refused(tmp_path, doctype):
    refusal(tmp_path, doctype + SVG)


def test_an_external_entity_is_not_read(tmp_path):
    secret = tmp_path / "secret.txt"
    secret.write_text("do not tell")
    doctype = f'<!DOCTYPE svg [<!ENTITY x SYSTEM "{secret.as_uri()}">]>'
    assert "do not tell" not in str(refusal(tmp_path, doctype + SVG.replace(PART, "<g id='&x;'/>")))


def test_an_undeclared_entity_is_refused(tmp_path):
    assert refusal(tmp_path, SVG.replace(PART, "&x;")).value.startswith("undefined entity")


@pytest.mark.parametrize("tag", ["g", "metadata", "style", "svg"])
def test_elements_nested_five_thousand_deep_are_refused(tmp_path, tag):
    body = f"<{tag}>" * 5000 + PART + f"</{tag}>" * 5000
    assert refusal(tmp_path, SVG.replace(PART, body)).value == "nested over 100 levels deep"


def test_too_many_elements_are_refused(tmp_path):
    assert refusal(tmp_path, SVG.replace(PART, "<g/>" * 200_001)).value == "over 200000 elements"


def test_a_file_over_twenty_megabytes_is_refused(tmp_path):
    assert refusal(tmp_path, SVG + " " * (20 * 1024 * 1024)).value == "over 20 MB"


def test_an_attribute_of_nineteen_megabytes_is_read_or_refused_in_time(tmp_path):
    body = PART.replace("<rect", f'<path d="M0 0{"l1 1" * 4_800_000}"/><rect')
    assert refusal(tmp_path, SVG.replace(PART, body)).value == "over 500000 points"


def test_compressed_svg_is_refused_by_name(tmp_path):
    assert "svgz" in refusal(tmp_path, gzip.compress(SVG.encode())).value


@pytest.mark.parametrize(
    "content",
    [
        "",
        " \n",
        "not xml",
        "<svg",
        "<svg></g>",
        "<html/>",
        "<svg xmlns='urn:other'/>",
        b"\x00\x01\x02",
        b"\xff\xfe",
        b"\x89PNG\r\n\x1a\n",
        b'<?xml version="1.0" encoding="none-such"?><svg/>',
        b'<?xml version="1.0" encoding="utf-7"?><svg/>',
        b"<svg>\xff</svg>",
        "<svg>" + "&#1114112;" + "</svg>",
        "<svg a='1' a='2'/>",
        "<x:svg/>",
    ],
)
def test_what_is_no_svg_is_refused(tmp_path, content):
    refusal(tmp_path, content)


def test_a_file_that_is_not_there_is_named(tmp_path):
    with pytest.raises(FileError, match="not found"):
        load_svg(tmp_path / "none.svg")


def test_a_folder_is_no_pattern(tmp_path):
    with pytest.raises(FileError, match="not a plain file"):
        load_svg(tmp_path)


@pytest.mark.parametrize(
    "outline",
    [
        '<path id="outline" d="M0 0H1e308V1e308z"/>',
        '<path id="outline" d="M0 0HnanV5z"/>',
        '<path id="outline" d="M0 0L1e9 0 1e9 1e9z"/>',
        '<rect id="outline" width="NaN" height="9"/>',
        '<rect id="outline" width="1e999" height="9"/>',
        '<circle id="outline" r="1e9"/>',
        '<use id="outline" href="#outline"/>',
        '<use id="outline" href="/etc/passwd"/>',
        '<rect id="outline" width="9" height="9" transform="scale(1e-300)"/>',
        '<rect id="outline" width="9" height="9" transform="matrix(1e9 0 0 1e9 1e9 1e9)"/>',
        '<path id="outline" d="M0 0A1e-300 1e-300 0 0 1 9 9z"/>',
    ],
)
def test_hostile_geometry_is_refused(tmp_path, outline):
    refusal(tmp_path, SVG.replace(PART, f'<g id="strap">{outline}</g>'))


@pytest.mark.parametrize(
    "attributes",
    [
        'style="' + "(" * 300_000 + '"',
        'style="' + "/*" * 300_000 + '"',
        'style="' + "&quot;'" * 300_000 + '"',
        'transform="' + "scale(" * 200_000 + '"',
        'transform="' + " " * 300_000 + '"',
        'id="outline' + "1" * 300_000 + '!"',
        'id="g' + "-" * 300_000 + '!"',
        'class="' + "a " * 300_000 + '"',
        'width="' + "1" * 300_000 + '"',
    ],
)
def test_long_hostile_attributes_are_refused(tmp_path, attributes):
    path = tmp_path / "x.svg"
    path.write_text(SVG.replace("<g id", f"<rect {attributes} height='3'/><g id"))
    with pytest.raises(FileError):
        read_pattern(path)


@pytest.mark.parametrize(
    "style",
    [
        "{" * 300_000,
        "}" * 300_000,
        "@charset" * 100_000,
        "/*" * 300_000,
        "a," * 300_000 + "{display:none}",
        "<!--" * 100_000,
    ],
)
def test_long_hostile_style_rules_are_survived(tmp_path, style):
    path = tmp_path / "x.svg"
    path.write_text(SVG.replace("<g id", f"<style>{style.replace('<', '&lt;')}</style><g id"))
    try:
        read_pattern(path)
    except FileError as error:
        assert error.place == "document"


RICH = f"""<svg xmlns="http://www.w3.org/2000/svg" width="99mm" height="99mm" viewBox="0 0 99 99">
<style>.h{{display:none}}</style><defs><g id="q">{PART}</g>
<symbol id="y" viewBox="0 0 10 10"><circle id="cutout" r="2" cx="5" cy="5"/></symbol></defs>
<g id="tab" transform="rotate(10) scale(1.5)"><path id="outline" d="M0 0C10-5 20-5 30 0S45 5 50 0V20a5 5 0 0 1-5 5H0z"/>
<use href="#y" x="20" width="10" height="10"/><polyline id="stitch" class="h" points="3,12 7,14"/></g>
<use href="#q"/></svg>"""
SCRAPS = [
    "1e9",
    "-1",
    "nan",
    "%",
    "0",
    "#q",
    "none",
    "auto",
    ".",
    "e",
    "A",
    '"',
    "<",
    ">",
    "&#0;",
    "&lt;",
    "mm",
    "</g>",
    "<g>",
    "\u202e",
]


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, len(RICH)), st.integers(0, 9), st.sampled_from(SCRAPS)), min_size=1, max_size=3)
)
def test_any_damage_to_a_file_gives_parts_or_one_line(tmp_path_factory, damage):
    text = RICH
    for start, lost, scrap in damage:
        text = text[:start] + scrap + text[start + lost :]
    path = tmp_path_factory.mktemp("damage") / "x.svg"
    path.write_text(text, encoding="utf-8")
    try:
        assert read_pattern(path)
    except FileError as error:
        assert all(str(fault).isprintable() for fault in error.all)
