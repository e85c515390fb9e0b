"""How much a head is like the words of a target; words of the trade in several languages."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from difflib import SequenceMatcher
from functools import lru_cache

from sandlab.exchange.units import without_unit

# The roles a column can have beside the targets of its kind.
ROLES: dict[str, tuple[str, ...]] = {
    "date": (
        "date",
        "day",
        "datum",
        "tag",
        "fecha",
        "data",
        "dato",
        "from",
        "taken",
        "taken at",
        "date time",
    ),
    "time": ("time", "hour", "hrs", "uhrzeit", "zeit", "heure", "hora", "ora", "tid", "klokkeslæt"),
    "technician": ("tech", "technician", "by", "initials", "tested by", "operator", "name", "prüfer", "sign"),
    "sampling_point": ("point", "sampling point", "place", "sample point", "taken from", "entnahmestelle"),
    "note": ("remark", "remarks", "note", "notes", "comment", "comments", "bemerkung", "bemerkungen"),
    "property": ("property", "test", "parameter", "characteristic", "what", "merkmal"),
    "value": ("value", "result", "reading", "wert", "ergebnis"),
    "unit": ("unit", "units", "einheit", "dimension"),
}
SUMMARY = (
    "average", "avg", "mean", "total", "sum", "subtotal", "min", "max", "minimum", "maximum", "range", "std",
    "target", "limits", "tolerance", "spec", "mittelwert", "mittel", "summe", "moyenne", "media", "soll", "ø",
)  # fmt: skip
SUMMARY_OF = (
    "average",
    "avg",
    "mean",
    "total",
    "subtotal",
    "mittelwert",
    "mittel",
    "summe",
    "moyenne",
    "media",
)
"""What also sums up after another word: "Weekly average"; a person may be called Max, but not in front."""
NOT_MEASURED = (
    "-", "--", "n/a", "na", "n.a.", "n.m.", "nm", "nt", "n/t", "none", "not tested", "not measured", "k.a.",
    "x", "/", "?", ".", "missing", "out of order", "–", "—",
)  # fmt: skip
_DEGREES = re.compile(r"\d+\s*°\s*[cf]", re.IGNORECASE)


@lru_cache(maxsize=4096)
def words_of(text: str) -> tuple[str, ...]:
    """The words of a head in plain letters: no units, accents, marks, or numbers that stand alone."""
    bare = _DEGREES.sub(" ", without_unit(" ".join(text.split())))
    folded = unicodedata.normalize("NFKD", bare.casefold().replace("ß", "ss"))
    plain = "".join(letter for letter in folded if not unicodedata.combining(letter))
    # "L.O.I." is one word, "Spec. wt" two.
    plain = re.sub(r"\b(?:[a-z]\.){2,}", lambda found: found[0].replace(".", ""), plain)
    return tuple(word for word in re.findall(r"[a-z0-9]+", plain) if not word.isdigit())


@lru_cache(maxsize=65536)
def likeness(head: str, phrase: str) -> float:
    """How much a head is like one phrase, from 0 to 1.

    1 the same words, 0.9 and less the phrase among others, 0.8 abbreviated, 0.65 misspelt.
    """
    given, wanted = words_of(head), words_of(phrase)
    if not given or not wanted:
        return 0.0
    if given == wanted:
        return 1.0 if len("".join(wanted)) > 1 else 0.7
    if len("".join(wanted)) > 2 and set(wanted) <= set(given):
        return max(0.6, 0.9 - 0.1 * (len(given) - len(wanted)))
    if len(given) == len(wanted) and all(
        longer.startswith(short) and (len(short) >= 3 or short == longer)
        for short, longer in zip(given, wanted, strict=True)
    ):
        return 0.8
    one, other = "".join(given), "".join(wanted)
    if min(len(one), len(other)) >= 5 and SequenceMatcher(None, one, other).ratio() >= 0.86:
        return 0.65
    return 0.0


def best_phrase(head: str, phrases: Iterable[str]) -> tuple[float, str]:
    """The likeness to the phrase that is nearest to a head, and that phrase."""
    return max(((likeness(head, phrase), phrase) for phrase in phrases), default=(0.0, ""))


def is_summary(text: str) -> bool:
    """Whether a row that begins with this text sums others up, or gives targets."""
    words = words_of(text.rstrip(":")) or (text.strip().casefold(),)
    return words[0] in SUMMARY or words[-1] in SUMMARY_OF
