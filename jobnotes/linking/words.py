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
# What follows one of these in a name says where the thing is, not what it is.
_NAME_ENDS_TEXT = "of from on at in to for with behind under above below near by before after"
_NAME_ENDS = frozenset(_NAME_ENDS_TEXT.split())
_POINTERS = frozenset(_POINTERS_TEXT.split())
_WORD = re.compile(r"[^\W_]+")


def content_words(text: str) -> frozenset[str]:
    """Lower-case words without pointers, a final plural s taken off, so that "clamps" meets "clamp"."""
    return frozenset(_singular(w) for w in _WORD.findall(text.casefold()) if w not in _POINTERS)


def head_word(name: str) -> str | None:
    """What a name is a name of: "bolts" of "four sensor bolts at the hub", as `content_words` has it."""
    head = None
    for word in _WORD.findall(name.casefold()):
        if word in _NAME_ENDS and head:
            break
        if word not in _POINTERS:
            head = _singular(word)
    return head


def _singular(word: str) -> str:
    return word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith("ss") else word
