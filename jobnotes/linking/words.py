"""The words of a phrase that tell what it is about."""

from __future__ import annotations

import re

# Words that point at nothing by themselves. English; a word of another language that is missing here costs
# little, as it only counts where it stands both in a cue and in a fact near it.
_POINTERS_TEXT = """
a an the this that these those it its one of on in at to for from with and or by as is was are be
photo photos picture pictures pic pics shot snap image take taking taken got get getting here there
now just new old same other another my our his her their me you we i
"""
_POINTERS = frozenset(_POINTERS_TEXT.split())
_WORD = re.compile(r"[^\W_]+")


def content_words(text: str) -> frozenset[str]:
    """Lower-case words without pointers, a final plural s taken off, so that "clamps" meets "clamp"."""
    words = (w for w in _WORD.findall(text.casefold()) if w not in _POINTERS)
    return frozenset(w[:-1] if len(w) > 3 and w.endswith("s") and not w.endswith("ss") else w for w in words)
