"""One door for drawings: DXF or SVG, told apart by content and name."""

from __future__ import annotations

from pathlib import Path

from lagline.records.errors import refuse
from lagline.shapes.assemble import Drawing

MOST_BYTES = 50_000_000


def read_drawing(path: Path, unit: str | None = None) -> Drawing:
    """Return the outlines of a drawing file [mm], see :func:`read_dxf` and :func:`read_svg` for ``unit``.

    Errors: ``LaglineError`` when the file is missing, a folder, unreadable, over 50 MB, or not a drawing.
    """
    where = path.name or str(path)
    try:
        if not path.exists():
            raise refuse("file-missing", where, f"there is no file {str(path)!r}", "a DXF or SVG file")
        if not path.is_file():
            raise refuse("file-is-folder", where, f"{str(path)!r} is not a file", "a DXF or SVG file")
        if path.stat().st_size > MOST_BYTES:
            message = f"the file has {path.stat().st_size / 1e6:.0f} MB"
            raise refuse("file-too-large", where, message, f"at most {MOST_BYTES // 1_000_000} MB")
        data = path.read_bytes()
    except (OSError, ValueError) as why:
        reason = getattr(why, "strerror", None) or "impossible name"
        raise refuse("file-unreadable", where, f"the file cannot be opened: {reason}", "a file you may read") from None
    return read_bytes(data, where, unit)


def read_bytes(data: bytes, where: str, unit: str | None = None) -> Drawing:
    """Return the outlines of a drawing given as bytes, such as one sent from a page; ``where`` is its file name."""
    if len(data) > MOST_BYTES:
        message = f"the file has {len(data) / 1e6:.0f} MB"
        raise refuse("file-too-large", where, message, f"at most {MOST_BYTES // 1_000_000} MB")
    if not data.strip():
        raise refuse("file-empty", where, "the file is empty", "a DXF or SVG drawing")
    suffix = Path(where).suffix.lower()
    head = data[:4096].replace(b"\0", b"").lower()
    if b"<svg" in head or suffix in (".svg", ".svgz"):
        from lagline.shapes.svg_read import read_svg

        return read_svg(data, unit, where)
    if suffix == ".dxf" or b"section" in head or head.startswith((b"autocad binary dxf", b"ac10")):
        from lagline.shapes.dxf_read import read_dxf

        return read_dxf(data, unit, where)
    raise refuse("file-unknown", where, "this is neither a DXF nor an SVG drawing", "a DXF or SVG file")
