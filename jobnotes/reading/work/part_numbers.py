"""Part numbers and serials, given to the part that they belong to."""

from __future__ import annotations

import re
from bisect import bisect_left, insort
from collections.abc import Mapping, Sequence
from dataclasses import replace

from jobnotes.reading.codes.trouble_codes import trouble_code
from jobnotes.reading.speech.names import Name, last_word, name_at, name_before
from jobnotes.reading.speech.numbers import Number
from jobnotes.reading.speech.spelling import Spelled
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.tokens import COMMA, NO_BREAK
from jobnotes.reading.trade.knowledge import PartAction
from jobnotes.reading.work.part_lists import LARGEST_COUNT, list_goes_on, numbered, part_of
from jobnotes.reading.work.spoken_work import Work, Works
from jobnotes.record import Part

#: What a part is made for, printed beside its number: "24V", "70A".
RATING = re.compile(r"(?:\d+(?:V|A|W|KW|MM|NM|BAR|AH))+", re.IGNORECASE)

#: How many tokens from its number a part may stand that is named again with it.
NEAR = 80
#: So many tokens, about ten seconds of speech, lie between a part and a number that is told much later.
FAR = 25


def with_numbers(text: Text, drafts: list[Draft], works: Sequence[Work]) -> list[Draft]:
    """Part numbers and serials go to the part named last before them, else to the next in the sentence."""
    out = _Placed(_without_names_run_on(text, drafts))
    near = Works(works)
    _new_ones_numbered(text, out)
    for cue, key in (("identity.serial", "serial"), ("identity.part_number", "number")):
        free = 0
        for i in text.where(cue):
            if i < free:
                continue
            found = text.cue(cue, i)
            spn = text.cue("codes.spn", i - 1) if i else None
            if found is None or not text.free(i, found[0]) or (spn is not None and spn[0] > i):
                continue
            j, run = number_after(text, found[0])
            if run is None:
                continue
            if key == "number" and _of_an_old_one(text, i):
                text.claim(i, run.end)
                free = run.end
                continue
            plain_cue = text.norms[i : found[0]] == ["number"]
            follows = any(
                0 <= i - d.keys[0][1] <= 3 or 0 <= i - d.end <= 1
                for d in (out.drafts[n] for n in out.around(i - 3, i))
            )
            least = 3 if follows else 4 if _told_in_breath(text, out, i) else 5
            if plain_cue and (len(run.text) < least or text.unit_follows(run.end)):
                continue
            said_of = named_after(text, found[0]) or _named_with(text, i)
            again = _put_right(text, out, said_of, i) if key == "number" else None
            if again is not None:
                out.put(again, _with_another(out.drafts[again], run, j))
                text.claim(i, run.end)
                free = run.end
                continue
            target = _target(text, out, said_of, i, run.end, key)
            whose = _of_what_took_it(text, out, said_of, i) if target is None and key == "number" else None
            if whose is not None and said_of is not None:
                doubt = f"'{said_of.text}' was named right before the number: whose is it?"
                target, first = whose, out.drafts[whose]
                out.put(whose, first.doubted(doubt))
            if target is None and named_after(text, found[0]) is not None:
                continue  # "the chassis number of this bus is …"
            gone = _taken_off(i, near)
            if gone is not None and (target is None or out.drafts[target].start < gone.start):
                part = _with(Part(gone.text, "removed", gone.count), key, run.text)
                doubts: tuple[str, ...] = (
                    () if run.exact else (f"{run.text} holds a repaired letter or digit",)
                )
                out.append(
                    Draft(part, gone.start, run.end, 0.9, doubts, keys=((gone.start, gone.end), (j, run.end)))
                )
                text.claim(i, run.end)
                free = run.end
                continue
            told = i - (text.norm(i - 1) == "is")  # "the new pump's number is …"
            named = name_before(text, told, max(text.breath(i)[0], i - 6)) if target is None else None
            vehicle = named is not None and named.text.casefold() in text.trade.words["beside_registration"]
            if (
                named is not None
                and named.kind
                and named.end == told
                and key == "number"
                and not named.pronoun
                and not (vehicle and plain_cue)  # "bus number QI22 PTA"
            ):
                doubt = "a part was named with its number, but not that it was fitted"
                spans = ((named.start, named.end), (j, run.end))
                part = Part(named.text, "fitted", named.count, number=run.text)
                if text.sense(i) is None and named.condition != "used":
                    out.append(Draft(part, named.start, run.end, 0.85, (doubt,), keys=spans))
            if target is None:
                text.claim(i, run.end)  # no part to give it to, but no reading either
                free = run.end
                continue
            if (shorter := _without_a_count(text, out, run)) is not None:
                run = shorter
            draft = out.drafts[target]
            owner = part_of(draft)
            doubts = draft.doubts
            if key == "number" and (stranger := _unknown_before(text, draft, i)) is not None:
                doubts = (*doubts, f"'{stranger.text}' was named right before the number: whose is it?")
            if shorter is not None:
                doubts = (*doubts, f"'{text.norm(run.end)}' after it was taken to count what follows")
            if not run.exact:
                which = "part" if key == "number" else "serial"
                doubts = (*doubts, f"the {which} number {run.text} holds a repaired letter or digit")
            if _counts_the_next(text, run):
                last = text.norm(run.end - 1)
                doubts = (*doubts, f"'{last}' at the end of {run.text} may count what was named after it")
            numbered = replace(
                draft,
                detail=_with(owner, key, run.text),
                start=min(draft.start, i),
                end=max(draft.end, run.end),
                doubts=doubts,
                keys=(*draft.keys, (j, run.end)),
                shown=_shown(text, draft, said_of, i, run.end),
            )
            out.put(target, numbered)
            text.claim(i, run.end)
            if key == "number" and owner.action in ("fitted", "ordered"):
                _goes_on(text, out, near, owner.action, run.end)
            free = run.end
    _unnamed(text, out, near)
    _named_again(text, out)
    return [_one_of_several(text, draft) for draft in _without_number_as_name(out.drafts)]


def _one_of_several(text: Text, draft: Draft) -> Draft:
    """ "two bearings, inner 33118 and outer 33215": one part can't have both numbers."""
    number = part_of(draft).number
    if number is None or part_of(draft).quantity in (None, 1):
        return draft
    places = text.trade.words["places"]
    for start, end in draft.keys:
        k = end + (text.norm(end) == "and")
        if text.norm(start - 1) in places and text.norm(k) in places:
            _, other = number_after(text, k + 1)
            if other is not None and len(other.text) > _SHORT_NUMBER:
                return draft.doubted(f"{other.text} was told after {number}: which of them has which number?")
    return draft


#: What is longer counts nothing and is no size.
_SHORT_NUMBER = 3


def _unknown_before(text: Text, draft: Draft, i: int) -> Name | None:
    """ "shaft and rocker replaced. Kanshaft number …": a name that nobody knows."""
    if draft.end >= i or text.tokens[i].gap > NO_BREAK:
        return None
    name = name_before(text, i, text.breath(i)[0])
    if name is None or name.end != i or name.kind is not None or name.pronoun or name.start <= draft.end - 1:
        return None
    opens = text.tokens[name.start].gap > NO_BREAK
    known = set(text.norms[name.start : i]) & set(text.norms[draft.start : draft.end])
    says_nothing = text.norm(i - 1) in text.trade.words["no_names_before_a_number"]
    return None if known or not opens or says_nothing else name


def _without_names_run_on(text: Text, drafts: Sequence[Draft]) -> list[Draft]:
    """ "a new water pump with a new gasket pump number 2051": the gasket, and the pump is named again with
    its number; both names are known, and the second is of a part told right before."""
    out: list[Draft] = []
    for draft in drafts:
        start, end = draft.keys[0]
        again = _named_before(text, start, end, out[-2:])
        if again is not None and part_of(draft).number is None:
            first = name_at(text, start, again)
            if first is not None and first.kind is not None and first.end == again:
                part = replace(part_of(draft), name=first.text)
                draft = replace(draft, detail=part, end=again, keys=((start, again), *draft.keys[1:]))
        out.append(draft)
    return out


def _named_before(text: Text, start: int, end: int, earlier: Sequence[Draft]) -> int | None:
    """Where in the name at `start` … `end` that of an earlier part begins, with its number right behind."""
    if end - start < _TWO_NAMES or end >= len(text.tokens) or text.tokens[end].gap > COMMA:
        return None
    told = end + (text.norm(end) in ("is", "was"))
    found = text.cue("identity.part_number", told) or text.cue("identity.part_number", end)
    if found is None or number_after(text, found[0])[1] is None:
        return None
    breath = text.breath(start)[0]
    for draft in earlier:
        words = part_of(draft).name.casefold().split()
        if draft.start < breath or part_of(draft).number is not None:
            continue
        for k in range(start + 1, end):
            if text.norms[k:end] == words[-(end - k) :] and text.norm(k - 1) not in ("a", "an", "the", "new"):
                return k
    return None


#: A name holds at least so many words where two run together.
_TWO_NAMES = 2


def _without_number_as_name(drafts: Sequence[Draft]) -> list[Draft]:
    """ "two U-joints, UJ 4401": the letters of a part number are no part of their own."""
    numbers = sorted(span for draft in drafts for span in draft.keys[1:])

    def is_number(draft: Draft) -> bool:
        start, end = draft.keys[0]
        before = bisect_left(numbers, (start + 1, 0)) - 1
        return len(draft.keys) == 1 and before >= 0 and end <= numbers[before][1]

    return [draft for draft in drafts if not is_number(draft)]


#: A number printed in groups with points between them: "30.4471.902", "4.0912.77-3".
_POINTED = re.compile(r"\d+(?:\.\d+)+(?:-\d+)?")


def _pointed(text: Text, j: int) -> Spelled | None:
    """The number at `j` that is printed with points between its groups, each of which is kept."""
    if j >= len(text.tokens) or "." not in text.norm(j):
        return None
    end = j + 1
    while end < len(text.tokens) and text.tokens[end].joined:
        end += 1
    said = _POINTED.fullmatch(text.tokens[j].text.strip(" ,.;:!?"))
    return Spelled(j, end, said.group()) if said is not None and not text.unit_follows(end) else None


def named_after(text: Text, j: int) -> Name | None:
    """What the number belongs to whose name ends at `j`: "part number on the outer bearing is …"."""
    name = name_at(text, j + 1) if text.norm(j) in ("on", "of", "for") else None
    where = text.cue("identity.is_words", j)
    if name is not None and where is not None and where[0] >= name.end:
        return None  # "the number on the bag is …"
    return name if name is not None and name.kind is not None and not name.pronoun else None


def number_after(text: Text, j: int) -> tuple[int, Spelled | None]:
    """Where the number begins whose name ("part number") ends at `j`, and the number, if there is one."""
    named = named_after(text, j)
    j = named.end if named is not None else j
    while text.cue("identity.is_words", j) or text.norm(j) in text.trade.words["before_number"]:
        step = text.cue("identity.is_words", j)
        j = step[0] if step else j + 1
    run = _pointed(text, j) or text.spelled(j, due=text.norm(j) in text.trade.homophones)
    if run is None or not any(c.isdigit() for c in run.text) or len(run.text) < 3:
        return j, None
    return j, run


def _counts_the_next(text: Text, run: Spelled) -> bool:
    """ "number six two bravo one split pin": one split pin, or the last figure of the number?"""
    last = text.norm(run.end - 1)
    if not text.goes_on(run.end) or last.isdigit():
        return False
    name = name_at(text, run.end)
    number = text.number(run.end - 1)
    return name is not None and bool(name.kind) and number is not None and run.text[-2:-1].isalpha()


def _without_a_count(text: Text, out: _Placed, run: Spelled) -> Spelled | None:
    """ "part number nine zero six two new shims": the number without its last figure, which counts what is
    new; that gets its count, for a person to check."""
    last = run.end - 1
    number = text.number(last) if last > run.start else None
    name = name_at(text, run.end) if text.norm(run.end) == "new" and text.goes_on(run.end) else None
    if number is None or name is None or name.kind is None or number.end != run.end or len(number.text) > 1:
        return None
    several = text.norm(name.end - 1).endswith("s")
    if number.value < 1 or several != (number.value > 1) or not run.text.endswith(number.text):
        return None
    for n in out.around(run.end, name.end):
        draft = out.drafts[n]
        if draft.keys[0][0] == run.end and part_of(draft).quantity is None:
            part = replace(part_of(draft), quantity=number.value)
            doubt = f"'{text.norm(last)}' before it counts them, or ends the number?"
            out.put(n, replace(draft, detail=part).doubted(doubt))
            return Spelled(run.start, last, run.text[:-1], run.exact)
    return None


def _put_right(text: Text, out: _Placed, named: Name | None, i: int) -> int | None:
    """ "sorry, that compressor number's AC 30-6641": the part of that name whose number was told before."""
    if named is None or named.pronoun or not text.find(text.trade.cue["amend.cues"], text.breath(i)[0], i):
        return None
    for n in range(len(out.drafts) - 1, -1, -1):
        part = part_of(out.drafts[n])
        near = out.drafts[n].start < i <= out.drafts[n].end + NEAR
        if near and part.number is not None and last_word(part.name) == last_word(named.text):
            return n
    return None


def _with_another(draft: Draft, run: Spelled, j: int) -> Draft:
    """The part with the number that was told in the place of its first, for a person to compare."""
    told = part_of(draft).number
    numbered = replace(
        draft, detail=_with(part_of(draft), "number", run.text), keys=(*draft.keys, (j, run.end))
    )
    return numbered.doubted(f"{told} was told first: which part number counts?")


def _of_what_took_it(text: Text, out: _Placed, named: Name | None, i: int) -> int | None:
    """ "new sensor in with some grease, part number 041485": of the part, as grease seldom has a number."""
    holds = named is not None and named.count is not None and named.kind in text.trade.kinds["fastening"]
    if named is None or not (holds or named.kind in text.trade.kinds["used_up"]):
        return None  # neither that, nor "new range valve three bolts part number …"
    start = text.breath(i)[0]
    told = [n for n in out.around(start, i) if start <= out.drafts[n].start < named.start]
    free = [
        n for n in told if part_of(out.drafts[n]).number is None and part_of(out.drafts[n]).action == "fitted"
    ]
    return free[0] if free else None


def _of_an_old_one(text: Text, i: int) -> bool:
    """Whether the number whose name stands at `i` was told of what came off."""
    words = text.norms[max(text.breath(i)[0], i - _BEFORE_NUMBER) : i]
    old = [k for k, word in enumerate(words) if word in text.trade.words["used_ones"]]
    return bool(old) and words[old[-1] + 1 : old[-1] + 2] in (["one"], ["unit"], ["part"], [])


#: So many words before "number" may tell whose it is.
_BEFORE_NUMBER = 5


def _new_ones_numbered(text: Text, out: _Placed) -> None:
    """ "The new one's number is 4471, and I put a new pipe on": of a part that nobody named, and not of one
    that is told later."""
    for i, norm in enumerate(text.norms):
        if norm not in ("one", "one's") or text.norms[max(0, i - 2) : i] != ["the", "new"]:
            continue
        cue = i + 1 + (text.norm(i + 1) in ("is", "has", "was"))
        found = text.cue("identity.part_number", cue)
        if found is None or number_after(text, found[0])[1] is None or text.sense(i) is not None:
            continue
        told = (out.drafts[n] for n in out.around(i - FAR, i))
        if not any(i - FAR <= d.start <= i and part_of(d).number is None for d in told):
            part, doubt = Part("new one", "fitted", condition="new"), "which part is the new one?"
            out.append(Draft(part, i - 1, i + 1, 0.7, (doubt,), keys=((i - 1, i + 1),)))


def _unnamed(text: Text, out: _Placed, works: Works) -> None:
    """ "fitted new camshaft 118-4420-L": a number right after its part, without a word for it."""
    n = -1
    while n + 1 < len(out.drafts):  # a number may bring on further parts
        n += 1
        draft = out.drafts[n]
        part = part_of(draft)
        if part.number is not None or part.action not in ("fitted", "ordered") or part.unit is not None:
            continue
        i = _past_what_was_done(text, draft.keys[0][1])
        if draft.end > i and text.spelled(i) is None and text.spelled(draft.end) is not None:
            i = _past_what_was_done(text, draft.end)  # "seal kit fitted, 1 off, 550 0917"
        if i >= len(text.tokens) or text.tokens[i].gap > COMMA or not text.free(i, i + 1):
            continue
        run = _pointed(text, i) or text.spelled(i)
        if run is None or not text.free(run.start, run.end) or trouble_code(text, i) is not None:
            continue
        plain = re.sub(r"[-/.]", "", run.text)
        figures = sum(c.isdigit() for c in plain)
        marked = not plain.isdigit() or "-" in run.text
        if len(plain) < 4 or figures < 3 or (not marked and figures < 5) or not plain[-1:].isalnum():
            continue
        number = text.number(i)
        if number is not None and number.end >= run.end and "." in number.text and len(plain) < 7:
            continue
        if run.end < len(text.tokens) and text.tokens[run.end].gap == NO_BREAK:
            counted = text.norm(run.end) in ("off", "of", "times", "newton", "point")
            if counted or text.unit_follows(run.end) or name_at(text, run.end) is not None:
                continue
        doubts = draft.doubts
        if not run.exact:
            doubts = (*doubts, f"the part number {run.text} holds a repaired letter or digit")
        out.put(
            n,
            replace(
                draft,
                detail=_with(part, "number", run.text),
                end=max(draft.end, run.end),
                doubts=doubts,
                keys=(*draft.keys, (run.start, run.end)),
            ),
        )
        text.claim(run.start, run.end)
        _goes_on(text, out, works, part.action, run.end)


#: So many tokens after a part its name may be said again with its number.
_AGAIN = 60


def _named_again(text: Text, out: _Placed) -> None:
    """ "new belt, new tensioner, tensioner's 2289": a part that is named again, and then its number alone."""
    for n, draft in enumerate(out.drafts):
        part = part_of(draft)
        if part.number is not None or part.action not in ("fitted", "ordered") or part.unit is not None:
            continue
        head = part.name.casefold().split()[-1].removesuffix("s")
        if {head, f"{head}s"}.isdisjoint(text.norms[draft.end : draft.end + _AGAIN]):
            continue  # most often
        for k in range(draft.end, min(len(text.tokens), draft.end + _AGAIN)):
            if text.norm(k).removesuffix("s") != head or not text.free(k, k + 1):
                continue
            led_to = {"new", "old"} | text.trade.words["tells_where"]
            if text.norm(k - 1) in led_to and text.tokens[k].gap == NO_BREAK:
                break
            j = k + 1
            while text.norm(j) in text.trade.words["before_own_number"] and text.tokens[j].gap == NO_BREAK:
                j += 1
            run = (_pointed(text, j) or text.spelled(j)) if j < len(text.tokens) else None
            if run is None or text.tokens[j].gap > NO_BREAK or not text.free(run.start, run.end):
                continue
            figures = sum(c.isdigit() for c in run.text)
            closed = not text.goes_on(run.end)
            if figures < 3 or len(run.text) < 4 or "." in run.text or text.unit_follows(run.end):
                continue
            others = any(o is not draft and head in part_of(o).name.casefold() for o in out.drafts)
            if others or not (closed or text.norm(run.end) in ("and", *text.trade.determiners)):
                continue
            doubts = draft.doubts
            if figures < 5 and run.text.isdigit():
                doubts = (*doubts, f"was {run.text} the number of the {part.name}?")
            if not run.exact:
                doubts = (*doubts, f"the part number {run.text} holds a repaired letter or digit")
            out.put(
                n,
                replace(
                    draft,
                    detail=_with(part, "number", run.text),
                    doubts=doubts,
                    keys=(*draft.keys, (run.start, run.end)),
                ),
            )
            text.claim(run.start, run.end)
            break


def _past_what_was_done(text: Text, i: int) -> int:
    """Past the words between a part and its number: "guide roller, left, …", "relay fitted, 24V 70A, …"."""
    between = text.trade.words["sides"] | text.trade.words["before_part_number"]
    while i < len(text.tokens) and text.tokens[i].gap <= COMMA:
        if text.norm(i) in between:
            i += 1
            continue
        verb = max(text.fittings_at(i)[0], text.steps_at(i)[0]) if text.reports(i) else i
        if verb > i and text.tokens[i].gap == NO_BREAK:
            i = verb
            continue
        number = text.number(i)
        if number is not None and (pieces := _pieces_here(text, number)) > i:
            i = pieces
            continue
        rated = text.trade.unit_forms.at(text.norms, number.end) if number is not None else (i, ())
        if rated[1] and rated[1][0][0].quantity in ("voltage", "current", "power"):
            i = rated[0]
            continue
        break
    return i


def _pieces_here(text: Text, number: Number) -> int:
    """Past a number of pieces before a part number: "pump, 1 off, EP-24-0071", "resistor, new, 1, TR-120"."""
    if text.norm(number.end) in text.trade.words["piece_words"]:
        return number.end + 1
    alone = number.end < len(text.tokens) and text.tokens[number.end].gap == COMMA
    small = len(number.atoms) == 1 and number.value <= LARGEST_COUNT and "." not in number.text
    following = text.spelled(number.end) if alone and small else None
    lettered = following is not None and any(c.isalpha() for c in following.text)
    return number.end if lettered else number.start


def _goes_on(text: Text, out: _Placed, works: Works, action: PartAction, i: int) -> None:
    """ "… part number 471, two gaskets and a seal": parts that go on after a number."""
    joined = text.norm(i) in ("and", "with", "plus")
    if not joined and (i >= len(text.tokens) or text.tokens[i].gap != COMMA):
        return
    for more in list_goes_on(text, i, works):
        if not joined and not numbered(text, more.end):
            return  # "thermostat (1874552), gasket (1874560)", but not any word after a comma
        gone = more.kind in text.trade.kinds["used_up"]
        counted = (
            more.count is not None
            or more.condition == "new"
            or text.norm(more.start) in ("a", "an")
            or numbered(text, more.end)
        )
        out.append(
            Draft(
                Part(more.text, "consumed" if gone else action, more.count, more.unit),
                more.start,
                more.end,
                score=0.88,
                doubts=() if counted else ("listed after a part, without saying that it was fitted",),
                keys=((more.start, more.end),),
            )
        )


class _Placed:
    """Drafts of parts that still change, found by where their names stand."""

    def __init__(self, drafts: Sequence[Draft]) -> None:
        self.drafts: list[Draft] = []
        self._names: list[tuple[int, int]] = []
        self._reach = 0
        for draft in drafts:
            self.append(draft)

    def append(self, draft: Draft) -> None:
        insort(self._names, (draft.keys[0][0], len(self.drafts)))
        self.drafts.append(draft)
        self._widen(draft)

    def put(self, n: int, draft: Draft) -> None:
        """Puts `draft` in the place of the `n`th, which has the same name."""
        self.drafts[n] = draft
        self._widen(draft)

    def around(self, low: int, high: int) -> list[int]:
        """Indices, in order, of all drafts that reach into tokens `low` … `high`, and of some beside them."""
        first = bisect_left(self._names, (low - self._reach, 0))
        last = bisect_left(self._names, (high + self._reach + 1, 0))
        return sorted(n for _, n in self._names[first:last])

    def _widen(self, draft: Draft) -> None:
        start, end = draft.keys[0]
        self._reach = max(self._reach, end - start, abs(draft.start - start), abs(draft.end - start))


def _with(part: Part, key: str, value: str) -> Part:
    return replace(part, serial=value) if key == "serial" else replace(part, number=value)


def _taken_off(i: int, works: Works) -> Name | None:
    """The thing that came off and whose number is told right after it."""
    for work in reversed(works.reaching(i - 3, i + 1)):
        if work.action == "removed" and not work.part and work.end <= i:
            return work.objects[-1] if work.objects and work.objects[-1].kind else None
    return None


def _named_with(text: Text, i: int) -> Name | None:
    """What stands right before a number's name: "the pump was number …", "relay, part number …"."""
    end = i
    while (
        end > 0 and text.norm(end - 1) in text.trade.words["has_number"] and text.tokens[end].gap == NO_BREAK
    ):
        end -= 1
    name = name_before(text, end, max(0, i - 6))
    led_to = name is not None and text.norm(name.start - 1) in text.trade.words["tells_where"]
    if led_to and name is not None and text.tokens[name.start].gap == NO_BREAK and name.condition is None:
        return None  # "the cable from the box to the inverter, part number …": of the cable
    return name


def _told_in_breath(text: Text, out: _Placed, i: int) -> bool:
    """Whether a part that has no number yet was told in the breath of token `i`, before it."""
    first = text.breath(i)[0]
    drafts = (out.drafts[n] for n in out.around(first, i))
    return any(first <= d.start < i and part_of(d).number is None for d in drafts)


def _of_that_name(text: Text, named: Name, parts: Mapping[int, str]) -> list[int]:
    """Of `parts` with the same head, those that `named` can mean: the outer bearing is not the inner one."""
    words = set(named.text.casefold().split())
    called = {n: set(name.casefold().split()) for n, name in parts.items()}
    whole = [n for n, name in called.items() if words <= name or name <= words]
    return whole if whole or words & text.trade.words["sides"] else list(called)


def _shown(text: Text, draft: Draft, said_of: Name | None, i: int, end: int) -> tuple[int, int] | None:
    """What is quoted where the part is named again with its number, much later: those words alone, without
    all that lies between."""
    if said_of is None or said_of.kind is None or i - draft.end < FAR:
        return draft.shown
    return min(said_of.start, i), end


def _target(text: Text, placed: _Placed, named: Name | None, i: int, end: int, key: str) -> int | None:
    """Which part the number belongs to that is told at `i` … `end`; `named`: the thing named with it."""
    drafts = placed.drafts
    near = placed.around(i - NEAR, max(i, end) + NEAR)
    if named is not None and named.kind:
        head = named.text.split()[-1].casefold()
        same = [
            n
            for n in near
            if head in part_of(drafts[n]).name.casefold()
            and abs(drafts[n].start - i) < NEAR
            and getattr(drafts[n].detail, key) is None
            and part_of(drafts[n]).action in ("fitted", "ordered")
        ]
        if same:
            meant = _of_that_name(text, named, {n: part_of(drafts[n]).name for n in same})
            return min(meant, key=lambda n: abs(drafts[n].start - i), default=None)
        if key == "number" and not any(
            (head in part_of(drafts[n]).name.casefold() and part_of(drafts[n]).number is None)
            or drafts[n].keys[0][1] == i
            for n in near
        ):
            return None  # "a relay, part number …": of none of the parts before
    before = [n for n in near if drafts[n].keys[0][0] <= i and i - drafts[n].keys[0][1] < 30]
    if before:
        n = before[-1]
        if getattr(drafts[n].detail, key) is None:
            return n
    after = [n for n in near if 0 <= drafts[n].keys[0][0] - end < 8]
    beside = name_before(text, i, max(text.breath(i)[0], i - _BESIDE)) if after else None
    if beside is not None and beside.end == i and beside.kind and not beside.pronoun:
        return None  # "one joint kit, number 33-20, and 16 new bolts": none of the bolts'
    return after[0] if after else None


#: So many words at most name the part right before its number.
_BESIDE = 6
