"""SVG drawings as pieces in millimetres, y turned upwards.

The tree is walked here, so that nothing is dropped unsaid; svgelements reads path data and transforms. A document
type that declares anything is refused before parsing, nothing outside the file is ever opened.
"""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from collections import Counter
from pathlib import Path

from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding, Severity
from lagline.shapes.assemble import Drawing, assemble
from lagline.shapes.clean import Chain
from lagline.shapes.svg_path import (
    MOST_COMMANDS,
    Affine,
    BadShape,
    basic_shape,
    numbers,
    path_chains,
    ring,
    sound_length,
)
from lagline.shapes.svg_size import PHYSICAL, PX_MM, fitted, length, transform, view_box
from lagline.shapes.units import unit_factor

DEEPEST = 60
MOST_ELEMENTS = 50_000
_GROUPS = frozenset({"g", "a", "switch", "svg"})
_SILENT = frozenset(
    {"defs", "symbol", "clipPath", "mask", "pattern", "marker", "style", "title", "desc", "metadata", "script"}
    | {"linearGradient", "radialGradient", "filter", "view", "namedview", "font", "animate", "set", "solidcolor"}
)
_BASIC = frozenset({"line", "rect", "circle", "ellipse"})
_PLAIN_DOCTYPE = re.compile(r"<!DOCTYPE\s[^\[\]<>]*>")


def _tag(element: ET.Element) -> str:
    return str(element.tag).rsplit("}", 1)[-1]


def _foreign(element: ET.Element) -> bool:
    """Whether the element belongs to another language than SVG, such as a drawing program's own notes."""
    space = str(element.tag).rpartition("}")[0]
    return bool(space) and not space.endswith("/svg")


def _style(element: ET.Element, name: str) -> str:
    """A presentation attribute, a style declaration going first."""
    for part in (element.get("style") or "").split(";"):
        key, _, value = part.partition(":")
        if key.strip() == name:
            return value.strip().lower()
    return (element.get(name) or "").strip().lower()


def _text(data: bytes, where: str) -> str:
    if data[:2] == b"\x1f\x8b":
        raise refuse("svg-compressed", where, "this is a compressed SVG", "save it as plain SVG")
    if not data.strip():
        raise refuse("file-empty", where, "the file is empty", "an SVG drawing")
    head = data[:200].decode("latin-1").lower()
    encoding = "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    if re.search(r"encoding\s*=\s*['\"](iso-8859-1|latin-1|windows-1252)['\"]", head):
        encoding = "cp1252"
    try:
        return data.decode(encoding, errors="replace" if encoding == "cp1252" else "strict")
    except UnicodeDecodeError as why:
        message = f"not UTF-8 text: byte {why.start} cannot be read"
        raise refuse("file-not-text", where, message, "save the drawing as UTF-8") from None


def _root(data: bytes, where: str) -> ET.Element:
    text = _PLAIN_DOCTYPE.sub("", _text(data, where), count=1)
    if re.search(r"<!(DOCTYPE|ENTITY)", text, re.IGNORECASE):
        message = "the drawing declares entities, which are not expanded here"
        raise refuse("svg-entities", where, message, "save as plain SVG, without a document type")
    text = re.sub(r"^\s*<\?xml[^>]*\?>", "", text, count=1)
    try:
        root = ET.fromstring(text)
    except (ET.ParseError, ValueError) as why:
        raise refuse("file-not-svg", where, f"not readable as SVG: {why}", "a whole SVG drawing") from None
    if _tag(root) != "svg":
        raise refuse("file-not-svg", where, f"the file's root is <{_tag(root)[:40]}>, not <svg>", "an SVG drawing")
    return root


class _Walk:
    """Chains, counts and faults, filled while the tree is walked."""

    def __init__(self, root: ET.Element) -> None:
        self.by_id = {i: e for e in root.iter() if (i := e.get("id"))}
        self.chains: list[Chain] = []
        self.found: Counter[str] = Counter()
        self.ignored: Counter[str] = Counter()
        self.hidden = 0
        self.cut_short: list[str] = []
        self.unusable: Counter[str] = Counter()
        self.walked = 0
        self.commands = 0
        self.page = (0.0, 0.0)

    def walk(self, element: ET.Element, m: Affine, depth: int) -> None:
        tag = _tag(element)
        if tag in _SILENT or not isinstance(element.tag, str) or _foreign(element):
            return
        self.walked += 1
        if self.walked > MOST_ELEMENTS or depth > DEEPEST:
            raise RecursionError
        if _style(element, "display") == "none" or _style(element, "visibility") in ("hidden", "collapse"):
            self.hidden += 1
            return
        if tag != "svg" or depth > 0:
            self.found[tag] += 1
        try:
            if (given := element.get("transform")) is not None:
                m = m.after(transform(given))
            if tag in _GROUPS:
                inner = self._nested(element, m) if tag == "svg" and depth else m
                for child in element[:1] if tag == "switch" else element:
                    self.walk(child, inner, depth + 1)
            elif tag == "use":
                self._use(element, m, depth)
            else:
                self._shape(tag, element, m)
        except BadShape as why:
            self.unusable[f"<{tag}> that {why}"] += 1
        except (LaglineError, RecursionError):
            raise
        except Exception as why:  # noqa: BLE001  a broken element is a fault of the file, whatever the library raises
            self.unusable[f"<{tag}> that cannot be read ({type(why).__name__})"] += 1

    def _size(self, element: ET.Element, name: str, axis: str) -> float:
        w, h = self.page
        of = {"x": w, "y": h, "d": math.sqrt((w * w + h * h) / 2)}[axis]
        text = (element.get(name) or _style(element, name)).strip()
        return 0.0 if text in ("", "auto") else length(text, of)[0]

    def _nested(self, element: ET.Element, m: Affine) -> Affine:
        x, y = self._size(element, "x", "x"), self._size(element, "y", "y")
        m = m.after(Affine(e=x, f=y))
        box = view_box(element.get("viewBox"))
        if box is None:
            return m
        w = self._size(element, "width", "x") or self.page[0]
        h = self._size(element, "height", "y") or self.page[1]
        return m.after(fitted(box, w, h, element.get("preserveAspectRatio", "")))

    def _use(self, element: ET.Element, m: Affine, depth: int) -> None:
        link = next((v for k, v in element.attrib.items() if k.rsplit("}", 1)[-1] == "href"), "")
        target = self.by_id.get(link[1:]) if link.startswith("#") else None
        if target is None:
            raise BadShape(f"points to {link[:40]!r}, which is not in this file")
        m = m.after(Affine(e=self._size(element, "x", "x"), f=self._size(element, "y", "y")))
        if _tag(target) == "symbol":
            box = view_box(target.get("viewBox"))
            w, h = self._size(element, "width", "x"), self._size(element, "height", "y")
            if box is not None and w > 0 and h > 0:
                m = m.after(fitted(box, w, h, target.get("preserveAspectRatio", "")))
            for child in target:
                self.walk(child, m, depth + 1)
        else:
            self.walk(target, m, depth + 1)

    def _shape(self, tag: str, element: ET.Element, m: Affine) -> None:
        if tag == "path":
            d = element.get("d") or _style(element, "d")
            sound, commands = sound_length(d)
            self.commands += commands
            if self.commands > MOST_COMMANDS:
                raise RecursionError
            if sound < len(d):
                self.cut_short.append(f"character {sound + 1} of {len(d)}, near {d[max(0, sound - 10) : sound + 10]!r}")
            if commands:
                self.chains += path_chains(d[:sound], m)
        elif tag in ("polygon", "polyline"):
            flat = numbers(element.get("points") or "")
            if flat is None:
                raise BadShape("has points that are not numbers")
            if len(flat) % 2:
                self.cut_short.append(f"the last of {len(flat)} numbers of a {tag}, which has no partner")
            pairs = list(zip(flat[::2], flat[1::2], strict=False))
            self.chains += ring(pairs, m, closed=tag == "polygon")
        elif tag in _BASIC:
            self.chains += basic_shape(tag, lambda name, axis: self._size(element, name, axis), m)
        else:
            self.ignored[tag] += 1


def _page(root: ET.Element, unit: str | None, where: str) -> tuple[Affine, tuple[float, float], str, list[Finding]]:
    """Return the map from the root's user units to mm with y up, the page in user units, the unit, and findings."""
    box = view_box(root.get("viewBox"))
    sizes: list[float | None] = []
    units: list[str] = []
    for name in ("width", "height"):
        text = (root.get(name) or "").strip()
        try:
            size, word = length(text) if text and not text.endswith("%") else (0.0, "%")
        except BadShape:
            size, word = 0.0, "%"
        sizes.append(size if size > 0 else None)
        units.append(word if size > 0 else "%")
    if box is not None:
        aspect = box[3] / box[2]
        if sizes[0] is None and sizes[1] is None:
            sizes = [box[2], box[3]]
        w = sizes[0] if sizes[0] is not None else (sizes[1] or 0.0) / aspect
        h = sizes[1] if sizes[1] is not None else w * aspect
        page = (box[2], box[3])
        view = fitted(box, w, h, root.get("preserveAspectRatio", ""))
    else:
        w, h = sizes[0] or 100.0, sizes[1] or 100.0
        page, view = (w, h), Affine()
    if unit is not None:
        scale = unit_factor(unit, where)
        bottom = (box[1] + box[3]) if box is not None else h
        return Affine(scale, 0.0, 0.0, -scale, 0.0, bottom * scale), page, unit, []
    up = Affine(PX_MM, 0.0, 0.0, -PX_MM, 0.0, h * PX_MM).after(view)
    physical = [u for u in units if u in PHYSICAL]
    if physical:
        return up, page, physical[0], []
    in_pixels = any(sizes) and "%" not in units
    given = f"its size is in pixels ({root.get('width') or root.get('height')})" if in_pixels else "it gives no size"
    message = f"the drawing has no physical size, {given}; taken as 96 pixels to the inch"
    return up, page, "px", [Finding("unit-assumed", Severity.CAUTION, where, message, "say the unit in the job")]


def _told(w: _Walk, where: str) -> list[Finding]:
    out = []
    if w.hidden:
        message = f"{w.hidden} element{'s' * (w.hidden > 1)} not read, hidden in the drawing"
        out.append(Finding("hidden-skipped", Severity.CAUTION, where, message, "show what belongs to the part"))
    if w.ignored:
        message = "left aside, no outline in them: " + ", ".join(f"{n} {k}" for k, n in sorted(w.ignored.items()))
        out.append(Finding("kind-left-aside", Severity.NOTE, where, message))
    for place in w.cut_short:
        message = f"path data is broken at {place}; read up to there"
        out.append(Finding("path-cut-short", Severity.NO_GO, where, message, "export the drawing again"))
    for what, n in sorted(w.unusable.items()):
        message = f"{n} × {what}; left out"
        out.append(Finding("piece-unusable", Severity.NO_GO, where, message, "mend or delete it in the drawing"))
    return out


def read_svg(source: Path | bytes, unit: str | None = None, where: str | None = None) -> Drawing:
    """Return the outlines of an SVG drawing [mm].

    Parameters
    ----------
    source : path, or the file's bytes
    unit : ``mm``, ``cm``, ``m``, ``in``, ``ft``, ``px`` or ``pt``: what one unit of the drawing's own numbers is, its
        page size set aside; None to go by width, height and viewBox
    where : name for the findings; the file's name when None

    Without a physical width or height the drawing is taken at 96 pixels to the inch, and a finding says so. Errors:
    ``LaglineError`` when it is not SVG, declares entities, or holds nothing that can be read.
    """
    data = source if isinstance(source, bytes) else source.read_bytes()
    name = where or ("drawing" if isinstance(source, bytes) else source.name)
    root = _root(data, name)
    try:
        up, page, word, findings = _page(root, unit, name)
        walk = _Walk(root)
        walk.page = page
        walk.walk(root, up, 0)
    except LaglineError:
        raise
    except RecursionError:
        message = f"the drawing unfolds to more than {MOST_ELEMENTS} elements, or a <use> leads back to itself"
        raise refuse("drawing-too-large", name, message, "one part, drawn plainly") from None
    except Exception as why:  # noqa: BLE001  the library raises many kinds on broken paths
        message = f"the drawing cannot be read: {type(why).__name__}: {' '.join(str(why).split())[:160]}"
        raise refuse("file-not-svg", name, message, "export the drawing again") from None
    findings += _told(walk, name)
    if not walk.found and not walk.hidden:
        raise refuse("drawing-empty", name, "nothing is drawn", "the part drawn as closed lines")
    return assemble(walk.chains, name, before=findings, found=sorted(walk.found.items()), unit=word)
