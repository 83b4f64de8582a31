"""A chart as SVG that is safe to stand inside a page: only shapes and text, no links, ids of its own."""

from __future__ import annotations

import re
from typing import Any
from xml.etree import ElementTree

from markupsafe import Markup

from model.charts import Palette, chart_svg

PRINT = Palette(
    ink="#000000", faint="#C4C4C4", paper="#FFFFFF", line="#000000", limit="#000000", plain="#6E6E6E",
    ramp=("#FFFFFF", "#DDDDDD", "#B8B8B8", "#8C8C8C", "#555555", "#111111"),
)  # fmt: skip
"""Greys only: shape, dash and words carry the meaning."""

_SVG = "http://www.w3.org/2000/svg"
_SHAPES = frozenset(
    ["svg", "g", "defs", "clipPath", "path", "rect", "line", "circle", "text", "tspan", "title", "desc",
     "linearGradient", "stop"]
)  # fmt: skip
_PROPERTIES = frozenset(
    ["viewBox", "width", "height", "x", "y", "x1", "x2", "y1", "y2", "dx", "dy", "cx", "cy", "r", "rx", "ry", "d",
     "transform", "fill", "fill-opacity", "stroke", "stroke-width", "stroke-opacity", "stroke-dasharray",
     "stroke-dashoffset", "stroke-linecap", "stroke-linejoin", "stroke-miterlimit", "opacity", "text-anchor",
     "dominant-baseline", "font-family", "font-size", "font-weight", "font-style", "clip-path", "id", "offset",
     "stop-color", "stop-opacity", "gradientUnits", "role", "aria-hidden", "aria-label", "version"]
)  # fmt: skip
_ANCHOR = re.compile(r"url\(#([\w-]+)\)")


def safe_svg(svg: str, prefix: str) -> Markup:
    """Keep of an SVG only shapes and text, and give its ids a prefix of their own.

    Parameters
    ----------
    svg : str
        A chart as the renderer wrote it.
    prefix : str
        Letters, digits and dashes; two pictures on one page need two prefixes.

    Returns
    -------
    Markup
        May be written into a page as it is.

    Raises
    ------
    ValueError
        When the text is not an SVG.

    Notes
    -----
    An allow-list, because names from a case reach the picture: scripts, styles, links, pictures and event attributes
    cannot pass whatever the renderer did with them. References other than to an id of the same picture are dropped.

    >>> str(safe_svg('<svg xmlns="http://www.w3.org/2000/svg" onload="x()"><script>x()</script><g id="a"/></svg>', "p"))
    '<svg><g id="p-a" /></svg>'
    """
    root = ElementTree.fromstring(svg)
    if root.tag != f"{{{_SVG}}}svg":
        raise ValueError("The picture is not an SVG. This is a fault of the program; please report it.")
    _clean(root, prefix)
    root.attrib.pop("id", None)
    # Inside HTML the namespace is implied, and without it no address stands in the document.
    return Markup(ElementTree.tostring(root, encoding="unicode"))


def _clean(element: ElementTree.Element, prefix: str) -> None:
    element.tag = element.tag.removeprefix(f"{{{_SVG}}}")
    for name, value in list(element.attrib.items()):
        anchors = _ANCHOR.fullmatch(value)
        if name not in _PROPERTIES or ("url(" in value and anchors is None):
            del element.attrib[name]
        elif name == "id":
            element.attrib[name] = f"{prefix}-{value}"
        elif anchors is not None:
            element.attrib[name] = f"url(#{prefix}-{anchors.group(1)})"
    for child in list(element):
        if isinstance(child.tag, str) and child.tag.removeprefix(f"{{{_SVG}}}") in _SHAPES:
            _clean(child, prefix)
        else:
            element.remove(child)


def picture_svg(chart: Any, prefix: str) -> Markup:
    """Draw a chart as SVG for a page, without any network."""
    return safe_svg(chart_svg(chart), prefix)
