"""Spoken photo cues: "taking a photo of the split hose"."""

from __future__ import annotations

from collections.abc import Iterator

from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP
from jobnotes.record import PhotoCue


def photo_cues(text: Text) -> Iterator[Draft]:
    free = 0
    for i in text.where("photo.cues"):
        cue = text.cue("photo.cues", i) if i >= free else None
        if cue is None:
            continue
        end = cue[0]
        if (
            text.sense(i, ("condition", "question")) is not None
            or text.negated_before(i)
            or (text.norm(i - 1) in ("the", "no", "that", "this") and text.tokens[i].gap == NO_BREAK)
        ):
            free = end
            continue
        stop = text.sentence(end - 1)[1]  # "I took a photo of": a sentence begins within the words
        j = end
        while j < stop and text.norm(j) in text.trade.words["photo_lead"]:
            j += 1
        if j >= stop and text.norm(j) in text.trade.words["photo_goes_on"] and text.tokens[j].gap <= COMMA:
            j, stop = j + 1, text.breath(i)[1]  # "photo here, that's the worn impeller"
            while j < stop and text.norm(j) in text.trade.words["photo_lead"]:
                j += 1
        number = text.number(j + (text.norm(j) == "number"))
        breath = text.breath(i)[1]
        if number is not None and number.end < breath and text.tokens[number.end].gap == COMMA:
            j, stop = number.end, breath  # "photo number one, the wet area", "photo this one, the wet plug"
        while j < stop and text.norm(j) in text.trade.words["photo_lead"]:
            j += 1
        last = j
        while (
            last < stop
            and last - j < 12
            and (text.tokens[last].gap == NO_BREAK or (last == j and text.tokens[last].gap == COMMA))
        ):
            if text.norm(last) in text.trade.words["photo_end"] or (
                text.tokens[last].gap == STOP and last > j
            ):
                break
            last += 1
        last = next((k for k in range(j + 1, last) if _another(text, k)), last)
        while last > j and text.norm(last - 1) in text.trade.words["photo_tail"]:
            last -= 1
        subject = text.said(j, last) if last > j else None
        yield Draft(PhotoCue(subject), i, max(last, end), 0.95 if subject else 0.85)
        free = max(last, end)
        while subject is not None and (begin := _another(text, free)):
            last = _subject_end(text, begin)
            if last == begin:
                break
            yield Draft(PhotoCue(text.said(begin, last)), free, last, 0.9)
            free = last


#: Words before the name of another photo: "and one of the …".
_ONE_MORE = frozenset(("one", "another"))


def _another(text: Text, i: int) -> int:
    """Past "and one of the", where it stands at `i`; else 0."""
    if text.norm(i) != "and" or text.norm(i + 1) not in _ONE_MORE or text.norm(i + 2) != "of":
        return 0
    return i + 4 if text.norm(i + 3) in text.trade.determiners else 0


def _subject_end(text: Text, start: int) -> int:
    last, stop = start, min(text.breath(start)[1], start + 12)
    while last < stop and (last == start or text.tokens[last].gap == NO_BREAK) and not _another(text, last):
        if text.norm(last) in text.trade.words["photo_end"]:
            break
        last += 1
    return last
