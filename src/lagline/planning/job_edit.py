"""Changing one field of a job or kit text and leaving the rest, comments and all, as the user wrote it."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, MutableMapping
from typing import Any, TypeAlias

from lagline.planning.fields import read_toml, shown
from lagline.records.errors import LaglineError, refuse

Path: TypeAlias = tuple[str | int, ...]


def set_value(text: str, path: Path, value: object) -> str:
    """Return the text with one field set.

    ``path`` leads to the field by names and by places in lists counted from 0, ``("parts", 2, "quantity")``.
    Tables on the way that are not there are made; a place one past the end of a list adds to it. ``value`` is
    text, a number, true or false, a list, or a mapping of such.
    Raises LaglineError for a text that is not TOML, a path that leads nowhere, a value TOML cannot hold.
    """
    import tomlkit

    document, parent, key = _find(text, path, make=True)
    try:
        if isinstance(parent, list) and key == len(parent):
            parent.append(_table(value) if isinstance(parent, tomlkit.items.AoT) else _inline(value))
        else:
            parent[key] = _table(value) if isinstance(parent, tomlkit.items.AoT) else _inline(value)
        return _checked(tomlkit.dumps(document), path)
    except (KeyError, IndexError, TypeError, ValueError):
        raise _nowhere(path, f"cannot hold {shown(value)}") from None


def remove_value(text: str, path: Path) -> str:
    """Return the text without a field, or without one entry of a list. Raises as :func:`set_value`."""
    import tomlkit

    document, parent, key = _find(text, path, make=False)
    try:
        del parent[key]
        return _checked(tomlkit.dumps(document), path)
    except (KeyError, IndexError, TypeError):
        raise _nowhere(path, "is not there") from None


def _nowhere(path: Path, why: str) -> LaglineError:
    return refuse("field-path", ".".join(map(str, path)) or "the whole text", why, "a field of the file")


def _find(text: str, path: Path, *, make: bool) -> tuple[Any, Any, str | int]:
    """Return the document, the table or list that holds the field, and the field's key in it."""
    import tomlkit

    read_toml(text, "text")
    if not path or any(isinstance(key, int) and key < 0 for key in path):
        raise _nowhere(path, "does not name a field")
    document = tomlkit.parse(text)
    here: Any = document
    for key, following in itertools.pairwise(path):
        try:
            if make and isinstance(here, MutableMapping) and key not in here:
                here[key] = tomlkit.aot() if isinstance(following, int) else tomlkit.table()
            if make and isinstance(here, list) and key == len(here):
                here.append(tomlkit.table())
            here = here[key]
        except (KeyError, IndexError, TypeError, ValueError):
            raise _nowhere(path, f"{shown(key)} is not there") from None
    key = path[-1]
    if isinstance(here, list) is not isinstance(key, int) or not isinstance(here, list | Mapping):
        raise _nowhere(path, f"{shown(key)} does not name a field there")
    if isinstance(here, list) and not 0 <= int(key) <= len(here):
        raise _nowhere(path, f"the list has {len(here)} entries")
    return document, here, key


def _inline(value: object) -> Any:
    """A value as one line: mappings become inline tables, wherever they are."""
    import tomlkit

    if isinstance(value, Mapping):
        table = tomlkit.inline_table()
        for k, v in value.items():
            table[str(k)] = _inline(v)
        return table
    if isinstance(value, list | tuple):
        array = tomlkit.array()
        for v in value:
            array.append(_inline(v))
        return array
    return tomlkit.item(value)


def _table(value: object) -> Any:
    import tomlkit

    if not isinstance(value, Mapping):
        raise TypeError("a list of tables holds tables")
    table = tomlkit.table()
    for k, v in value.items():
        table[str(k)] = _inline(v)
    return table


def _checked(text: str, path: Path) -> str:
    """The text, read back once: what is written is never left unreadable."""
    try:
        read_toml(text, "text")
    except LaglineError:
        raise _nowhere(path, "cannot be set there without breaking the text") from None
    return text
