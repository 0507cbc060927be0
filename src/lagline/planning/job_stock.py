"""The metal of a part or plate: the job's own stock, with what the part or plate says differently."""

from __future__ import annotations

from lagline.planning.fields import Fields, nearest, read_text, read_thickness, shown
from lagline.records.errors import LaglineError, refuse
from lagline.records.job import Stock

_METALS = {
    "steel": "steel",
    "mild steel": "steel",
    "carbon steel": "steel",
    "stainless": "stainless",
    "stainless steel": "stainless",
    "aluminium": "aluminium",
    "aluminum": "aluminium",
}
_COATINGS = {
    "bare": "bare",
    "mill scale": "mill scale",
    "oil": "oil",
    "rust": "rust",
    "primer": "primer",
    "paint": "paint",
    "galvanised": "galvanised",
    "galvanized": "galvanised",
}
METALS = tuple(dict.fromkeys(_METALS.values()))
COATINGS = tuple(dict.fromkeys(_COATINGS.values()))
STAND_IN = Stock("steel", "", 10.0, "10 mm")


def _word(words: dict[str, str], given: object, where: str) -> str:
    if not isinstance(given, str) or given.strip().lower() not in words:
        raise refuse("field-bad", where, f"{shown(given)} is not known", nearest(str(given)[:40], set(words.values())))
    return words[given.strip().lower()]


def _as_written(given: object, unit: str) -> str:
    """The thickness as the user wrote it, with the job's unit when a bare number was written."""
    text = " ".join(shown(given).strip('"').split())
    bare = not any(c.isalpha() or c in "\"'″′" for c in text)
    return (f'{text}"' if unit == "in" else f"{text} mm") if bare else text


def read_stock(job: Fields, own: Fields, unit: str) -> Stock:
    """Return the stock from the part's or plate's own ``stock`` table over the job's.

    A thickness by gauge is read for the metal and coating that result, and noted with what it was taken to mean.
    """

    def pick(key: str) -> tuple[Fields, object]:
        job.known.add(key)
        f = own if own.has(key) else job
        return f, f.data.get(key)

    def word(key: str, words: dict[str, str], default: str) -> str:
        f, given = pick(key)
        if given is None:
            if not default:
                f.refuse("field-missing", key, "is missing", "one of: " + ", ".join(sorted(set(words.values()))))
            return default or STAND_IN.metal
        return f.take(key, lambda g, where: _word(words, g, where), default or STAND_IN.metal)

    metal, coating = word("metal", _METALS, ""), word("coating", _COATINGS, "bare")
    f, _ = pick("grade")
    grade = f.take("grade", read_text, "")
    f, given = pick("thickness")
    mm, text = STAND_IN.thickness_mm, STAND_IN.thickness_text
    if given is None:
        f.refuse("field-missing", "thickness", "is missing", 'such as "3/8", "10 ga" or "12 mm"')
    else:
        text = _as_written(given, unit)
        try:
            mm, noted = read_thickness(given, metal, coating, unit, f.at("thickness"))
            f.findings.extend(noted)
        except LaglineError as e:
            f.findings.extend(e.findings)
    own.done()
    return Stock(metal, grade, mm, text, coating)
