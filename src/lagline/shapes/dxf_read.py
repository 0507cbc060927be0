"""DXF drawings: what is in model space, blocks unfolded, as pieces in millimetres.

Lines and arcs stay exact; ellipses and splines become vertices within 0.01 mm. The format is the published DXF
reference's: group 70 of ``$INSUNITS`` for units, an extrusion vector per entity for its own plane, bulges as tangents
of a quarter sweep.
"""

from __future__ import annotations

import io
import logging
import math
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from lagline.records.errors import LaglineError, refuse
from lagline.records.finding import Finding, Severity
from lagline.shapes.assemble import Drawing, assemble
from lagline.shapes.clean import Chain
from lagline.shapes.dxf_entity import DRAWN, HOLDS_SHAPE, NotFlat, Unusable, chains_of
from lagline.shapes.units import UNIT_MM, unit_factor

DEEPEST = 12
MOST_ENTITIES = 60_000
MOST_PIECES = 400_000
_INSUNITS = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 8: "microinch", 9: "mil", 10: "yd", 13: "micron", 14: "dm"}


# what the library would print is told as findings
logging.getLogger("ezdxf").addHandler(logging.NullHandler())


class _TooMuch(Exception):
    """The drawing unfolds to more than is read."""


class _Gathered:
    """Pieces, counts and what was left out, filled while entities are walked."""

    def __init__(self, factor: float, layers: dict[str, str]) -> None:
        self.factor = factor
        self.layers = layers
        self.chains: list[Chain] = []
        self.found: Counter[str] = Counter()
        self.ignored: Counter[str] = Counter()
        self.hidden: Counter[str] = Counter()
        self.not_flat: Counter[str] = Counter()
        self.unusable: list[str] = []
        self.heights: set[float] = set()
        self.inside: list[str] = []  # names of the blocks being unfolded
        self.walked = 0

    def walk(self, entities: Iterator[Any], layer_of_insert: str | None, depth: int) -> None:
        for e in entities:
            self.walked += 1
            if self.walked > MOST_ENTITIES or len(self.chains) > MOST_PIECES:
                raise _TooMuch
            kind = e.dxftype()
            layer = str(e.dxf.get("layer", "0"))
            if layer == "0" and layer_of_insert is not None:
                layer = layer_of_insert
            state = self.layers.get(layer.lower(), "")
            if state == "frozen" or (state == "off" and kind != "INSERT"):
                self.hidden[f"{layer} ({state})"] += 1
                continue
            if e.dxf.get("invisible", 0):
                self.hidden["pieces set invisible"] += 1
                continue
            self.found[kind] += 1
            if kind == "INSERT":
                self._insert(e, layer, depth)
            elif kind in DRAWN:
                self._draw(e, kind)
            else:
                self.ignored[kind] += 1

    def _insert(self, e: Any, layer: str, depth: int) -> None:
        block = e.block()
        if block is None:
            self.unusable.append(f"a block {e.dxf.get('name', '?')!r} that the drawing does not hold")
            return
        name = str(e.dxf.name).lower()
        if name in self.inside or depth >= DEEPEST:
            self.unusable.append(f"a block {e.dxf.name!r} that holds itself or is nested more than {DEEPEST} deep")
            return
        numbers = (*e.dxf.insert, e.dxf.xscale, e.dxf.yscale, e.dxf.zscale, e.dxf.rotation)
        if not all(math.isfinite(float(n)) for n in numbers) or e.dxf.xscale == 0 or e.dxf.yscale == 0:
            self.unusable.append(f"a block {e.dxf.get('name', '?')!r} placed with impossible numbers")
            return
        for count, spacing in (("row_count", "row_spacing"), ("column_count", "column_spacing")):
            if not e.dxf.get(spacing, 0.0):
                e.dxf.set(count, 1)  # copies on top of each other are one
        self.inside.append(name)
        for one in e.multi_insert() if e.mcount > 1 else (e,):
            self.walk(one.virtual_entities(skipped_entity_callback=self._skipped), layer, depth + 1)
        self.inside.pop()

    def _skipped(self, e: Any, reason: str) -> None:  # noqa: ARG002
        self.ignored[e.dxftype()] += 1

    def _draw(self, e: Any, kind: str) -> None:
        try:
            for chain, z in chains_of(e, self.factor):
                self.chains.append(chain)
                self.heights.add(round(z, 3))
        except NotFlat:
            self.not_flat[kind] += 1
        except Unusable as why:
            self.unusable.append(f"{kind} {why}")
        except RecursionError:
            raise
        except Exception as why:  # noqa: BLE001  a broken entity is a fault of the file, whatever the library raises
            self.unusable.append(f"{kind} that cannot be read ({type(why).__name__})")


def _unfolded(entities: Any, blocks: Any, known: dict[str, int], inside: tuple[str, ...] = ()) -> int:
    """How many entities these are with all blocks unfolded; a block within itself counts as one."""
    total = 0
    for e in entities:
        total += 1
        if e.dxftype() != "INSERT":
            continue
        name = str(e.dxf.get("name", "")).lower()
        if name in inside or len(inside) > DEEPEST or name not in blocks:
            continue
        if name not in known:
            known[name] = _unfolded(blocks.get(name), blocks, known, (*inside, name))
        total += known[name] * max(1, int(e.mcount))
    return total


def _counted(counts: Counter[str]) -> str:
    return ", ".join(f"{n} {k}" for k, n in sorted(counts.items()))


def _open(data: bytes, where: str) -> tuple[Any, list[Finding]]:
    """Return the document and what had to be repaired: strict first, then recovered."""
    from ezdxf import recover
    from ezdxf.audit import AuditError
    from ezdxf.document import Drawing as Document
    from ezdxf.filemanagement import read
    from ezdxf.lldxf.tagger import binary_tags_loader

    if data[:4] == b"AC10" or data[:4] == b"AC1.":
        raise refuse("dwg-not-read", where, "this is a DWG file, not DXF", "save the drawing as DXF")
    if not data.strip():
        raise refuse("file-empty", where, "the file is empty", "a DXF drawing")
    if b"SECTION" not in data:
        raise refuse("file-not-dxf", where, "this is not a DXF drawing: it has no section", "a DXF drawing")
    try:
        if data.startswith(b"AutoCAD Binary DXF"):
            return Document.load(binary_tags_loader(data, errors="surrogateescape")), []
        if b"\0" in data[:4096]:
            raise refuse("file-not-dxf", where, "this is not a DXF drawing", "a DXF drawing, text or binary")
        text = data.decode("utf-8") if _is_utf8(data) else data.decode("cp1252", errors="replace")
        return read(io.StringIO(text.removeprefix("\ufeff"), newline=None)), []
    except LaglineError:
        raise
    except Exception as why:  # noqa: BLE001  the library raises many kinds on broken files
        reason = " ".join(str(why).split())[:160] or type(why).__name__
    try:
        doc, auditor = recover.read(io.BytesIO(data))
    except Exception as why:  # noqa: BLE001
        again = " ".join(str(why).split())[:160] or type(why).__name__
        raise refuse("file-not-dxf", where, f"not readable as DXF: {again}", "a DXF drawing, text or binary") from None
    if not len(doc.modelspace()):
        message = f"the file is damaged and nothing drawn could be recovered: {reason}"
        raise refuse("file-damaged", where, message, "export the drawing again")
    fixes = Counter(_kind(str(e.message)) for e in (*auditor.fixes, *auditor.errors))
    message = (
        f"the file is damaged ({reason}) and was recovered with {len(doc.modelspace())} pieces; some may be missing"
    )
    if fixes:
        message += "; repaired: " + ", ".join(f"{k} ({n})" for k, n in sorted(fixes.items())[:6])
    findings = [Finding("file-damaged", Severity.CAUTION, where, message, "check it against the drawing")]
    guesses = (AuditError.INVALID_INTEGER_VALUE, AuditError.INVALID_FLOATING_POINT_VALUE)
    guessed = [str(e.message) for e in (*auditor.fixes, *auditor.errors) if e.code in guesses]
    if guessed:
        message = f"{len(guessed)} broken number{'s' * (len(guessed) > 1)} guessed while recovering: {guessed[0]}"
        findings.append(Finding("numbers-guessed", Severity.NO_GO, where, message, "export the drawing again"))
    return doc, findings


def _kind(message: str) -> str:
    """What a repair is about, without its particulars."""
    return re.split(r"[#\"':(]", message)[0].strip()[:80]


def _is_utf8(data: bytes) -> bool:
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def _header(doc: Any, name: str) -> Any:
    try:
        return doc.header.get(name)
    except Exception:  # noqa: BLE001  a broken header is as good as none
        return None


def _unit(doc: Any, asked: str | None, where: str) -> tuple[str, float, list[Finding]]:
    """Return the unit's name, mm in one, and findings about it."""
    code = _header(doc, "$INSUNITS")
    code = int(code) if isinstance(code, int | float) and math.isfinite(code) else 0
    own = _INSUNITS.get(code)
    if asked:
        factor = unit_factor(asked, where)
        if own and not math.isclose(UNIT_MM[own], factor):
            message = f"the drawing says {own}, read as {asked} because the job says so"
            return asked, factor, [Finding("unit-overruled", Severity.NOTE, where, message)]
        return asked, factor, []
    if own:
        return own, UNIT_MM[own], []
    # architectural and engineering formats are defined in inches
    taken = "in" if _header(doc, "$LUNITS") in (3, 4) else "mm"
    why = "says no unit" if code == 0 else f"says unit number {code}, which is not a workshop unit"
    message = f"the drawing {why}; taken as {taken}"
    return taken, UNIT_MM[taken], [Finding("unit-assumed", Severity.CAUTION, where, message, "say the unit in the job")]


def _layers(doc: Any) -> dict[str, str]:
    out = {}
    for layer in doc.layers:
        frozen, off = layer.is_frozen(), layer.is_off()
        if frozen or off:
            out[str(layer.dxf.name).lower()] = "frozen" if frozen else "off"
    return out


def _told(g: _Gathered, where: str) -> list[Finding]:
    out = []
    if g.hidden:
        message = f"not read, hidden in the drawing: {_counted(g.hidden)}"
        out.append(Finding("hidden-skipped", Severity.CAUTION, where, message, "switch on what belongs to the part"))
    shapes = Counter({k: n for k, n in g.ignored.items() if k in HOLDS_SHAPE})
    others = g.ignored - shapes
    if shapes:
        message = f"not read: {_counted(shapes)}"
        out.append(Finding("kind-not-read", Severity.CAUTION, where, message, "draw outlines as lines, arcs or curves"))
    if others:
        message = f"left aside, no outline in them: {_counted(others)}"
        out.append(Finding("kind-left-aside", Severity.NOTE, where, message))
    if g.not_flat:
        message = f"not flat, left out: {_counted(g.not_flat)}"
        out.append(Finding("not-flat", Severity.NO_GO, where, message, "a drawing in one plane seen from above"))
    if len(g.heights) > 1:
        message = f"pieces lie at {len(g.heights)} heights from {min(g.heights):g} to {max(g.heights):g} mm; laid flat"
        out.append(Finding("heights-flattened", Severity.MENDED, where, message))
    for what, n in sorted(Counter(g.unusable).items()):
        message = f"{n} × {what}; left out"
        out.append(Finding("piece-unusable", Severity.NO_GO, where, message, "mend or delete it in the drawing"))
    return out


def read_dxf(source: Path | bytes, unit: str | None = None, where: str | None = None) -> Drawing:
    """Return the outlines of a DXF drawing [mm].

    Parameters
    ----------
    source : path, or the file's bytes
    unit : ``mm``, ``cm``, ``m``, ``in`` or ``ft`` to overrule the drawing; None to go by it
    where : name for the findings; the file's name when None

    A drawing that says no unit is taken as millimetres (inches when its lengths are shown in feet and inches), and a
    finding says so. Errors: ``LaglineError`` when nothing drawn can be read.
    """
    data = source if isinstance(source, bytes) else source.read_bytes()
    name = where or ("drawing" if isinstance(source, bytes) else source.name)
    try:
        doc, findings = _open(data, name)
        word, factor, said = _unit(doc, unit, name)
        findings += said
        if _unfolded(doc.modelspace(), doc.blocks, {}) > MOST_ENTITIES:
            raise _TooMuch
        gathered = _Gathered(factor, _layers(doc))
        gathered.walk(iter(doc.modelspace()), None, 0)
    except LaglineError:
        raise
    except (_TooMuch, RecursionError):
        message = f"the drawing unfolds to more than {MOST_ENTITIES} pieces"
        raise refuse("drawing-too-large", name, message, "one part, without the rest of the plan") from None
    except Exception as why:  # noqa: BLE001
        message = f"the drawing cannot be read: {type(why).__name__}: {' '.join(str(why).split())[:160]}"
        raise refuse("file-not-dxf", name, message, "export the drawing again as DXF") from None
    findings += _told(gathered, name)
    if not gathered.found and not gathered.hidden:
        raise refuse("drawing-empty", name, "nothing is drawn in model space", "the part drawn in model space")
    found = sorted(gathered.found.items())
    return assemble(gathered.chains, name, before=findings, found=found, unit=word)
