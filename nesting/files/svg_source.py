"""The XML of a drawing that nobody vouches for: bounded, and without anything that reaches outside the file."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree.ElementTree import Element, ParseError, TreeBuilder

from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import DefusedXMLParser

from ..errors import FileError
from .limits import DEFAULT
from .source import printable, read_bytes

SVG_SPACES = ("{http://www.w3.org/2000/svg}", "")
_PLAIN_DOCTYPE = re.compile(
    rb"<!DOCTYPE\s+svg\s+PUBLIC\s+[\"']-//W3C//DTD SVG [^\"'<>]{1,40}[\"']\s+[\"']https?://www\.w3\.org/[^\"'<>]{1,90}[\"']\s*>"
)
"""What many editors write above the drawing: it names the standard, declares nothing, and is never fetched."""


def load_svg(path: Path, content: bytes | None = None) -> Element:
    """Parse an SVG file.

    Parameters
    ----------
    path : Path
    content : bytes, optional
        What stands in it, where that is read already.

    Returns
    -------
    Element
        Its root, an ``svg`` element.

    Raises
    ------
    FileError
        When it cannot be read, is over 20 MB, over 200 000 elements, over 100 levels deep, no XML, no SVG, or declares
        a document type of its own, entities or anything external.
    """
    content = _PLAIN_DOCTYPE.sub(
        lambda found: b"\n" * found[0].count(b"\n"), read_svg_bytes(path) if content is None else content, count=1
    )
    parser = DefusedXMLParser(target=_Bounded(), forbid_dtd=True, forbid_entities=True, forbid_external=True)
    try:
        parser.feed(content)
        root = parser.close()
    except _TooMuch as error:
        raise FileError(path, "file", str(error), "simplify the drawing, or split it into several files") from None
    except DefusedXmlException as error:
        mend = "save it as plain SVG, without the editor's own data: declarations are not read, for safety"
        raise FileError(path, "file", f"declares a {_name(error)}", mend) from None
    except ParseError as error:
        line, column = error.position
        reason = printable(str(error).split(":")[0])
        raise FileError(path, f"line {line}, column {column + 1}", reason, "export the drawing as SVG again") from None
    except (ValueError, LookupError) as error:
        raise FileError(path, "file", printable(str(error)), "save the drawing as SVG in UTF-8") from None
    if local_name(root) != "svg":
        raise FileError(path, "file", f"its root is {printable(root.tag[:60])}", "give an SVG drawing")
    return root


def local_name(element: Element) -> str:
    """The tag of an element of SVG; empty for an element of anyone else's."""
    space, brace, name = element.tag.rpartition("}")
    return name if space + brace in SVG_SPACES else ""


def read_svg_bytes(path: Path) -> bytes:
    """What stands in an SVG file; refused where it cannot be one."""
    mend = "give the path of an SVG drawing"
    too_big = "simplify the drawing, and take photos out of it"
    content = read_bytes(path, DEFAULT.svg_bytes, missing=mend, not_plain=mend, too_big=too_big)
    if content.startswith(b"\x1f\x8b"):
        raise FileError(path, "file", "compressed SVG (svgz)", "save it as plain SVG")
    if not content.strip():
        raise FileError(path, "file", "empty", "export the drawing as SVG again")
    return content


def _name(error: DefusedXmlException) -> str:
    kinds = {
        "DTDForbidden": "document type",
        "EntitiesForbidden": "entity",
        "ExternalReferenceForbidden": "reference outside",
    }
    return kinds.get(type(error).__name__, "thing that is not allowed")


class _TooMuch(Exception):
    pass


class _Bounded(TreeBuilder):
    """Builds the tree and gives up as soon as it grows too big or too deep."""

    def __init__(self) -> None:
        super().__init__()
        self.elements = self.depth = 0

    def start(self, tag: str, attributes: dict[str, str], /) -> Element:
        self.elements += 1
        self.depth += 1
        if self.elements > DEFAULT.svg_elements:
            raise _TooMuch(f"over {DEFAULT.svg_elements} elements")
        if self.depth > DEFAULT.svg_depth:
            raise _TooMuch(f"nested over {DEFAULT.svg_depth} levels deep")
        return super().start(tag, attributes)

    def end(self, tag: str, /) -> Element:
        self.depth -= 1
        return super().end(tag)
