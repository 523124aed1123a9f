"""Part numbers and serials, given to the part that they belong to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from jobnotes.reading.names import Name, name_before
from jobnotes.reading.part_lists import list_goes_on
from jobnotes.reading.text import Draft, Text
from jobnotes.reading.work import Work
from jobnotes.record import Part


def with_numbers(text: Text, drafts: list[Draft], works: Sequence[Work]) -> list[Draft]:
    """Part numbers and serials go to the part named last before them, else to the next in the sentence."""
    out = list(drafts)
    for cue, key in (("identity.serial", "serial"), ("identity.part_number", "number")):
        i = 0
        while i < len(text.tokens):
            found = text.cue(cue, i)
            spn = text.cue("codes.spn", i - 1) if i else None
            if found is None or not text.free(i, found[0]) or (spn is not None and spn[0] > i):
                i += 1
                continue
            j = found[0]
            while text.cue("identity.is_words", j) or text.norm(j) in text.trade.words["before_number"]:
                step = text.cue("identity.is_words", j)
                j = step[0] if step else j + 1
            run = text.spelled(j)
            if run is None or not any(c.isdigit() for c in run.text) or len(run.text) < 3:
                i += 1
                continue
            plain_cue = text.norms[i : found[0]] == ["number"]
            follows = any(0 <= i - d.keys[0][1] <= 3 or 0 <= i - d.end <= 1 for d in out)
            if plain_cue and (
                len(run.text) < (3 if follows else 5) or text.trade.unit_forms.at(text.norms, run.end)[1]
            ):
                i += 1
                continue
            target = _target(text, out, i, run.end, key)
            gone = _taken_off(text, i, works)
            if gone is not None and (target is None or out[target].start < gone.start):
                part = _with(Part(gone.text, "removed", gone.count), key, run.text)
                doubts: tuple[str, ...] = (
                    () if run.exact else (f"{run.text} holds a repaired letter or digit",)
                )
                out.append(
                    Draft(part, gone.start, run.end, 0.9, doubts, keys=((gone.start, gone.end), (j, run.end)))
                )
                text.claim(i, run.end)
                i = run.end
                continue
            if target is None:
                text.claim(i, run.end)  # no part to give it to, but no reading either
                i = run.end
                continue
            draft, owner = out[target], _part(out[target])
            doubts = draft.doubts
            if not run.exact:
                which = "part" if key == "number" else "serial"
                doubts = (*doubts, f"the {which} number {run.text} holds a repaired letter or digit")
            out[target] = replace(
                draft,
                detail=_with(owner, key, run.text),
                start=min(draft.start, i),
                end=max(draft.end, run.end),
                doubts=doubts,
                keys=(*draft.keys, (j, run.end)),
            )
            text.claim(i, run.end)
            if (
                key == "number"
                and owner.action in ("fitted", "ordered")
                and text.norm(run.end) in ("and", "with")
            ):
                for more in list_goes_on(text, run.end, works):
                    counted = (
                        more.count is not None
                        or more.condition == "new"
                        or text.norm(more.start) in ("a", "an")
                    )
                    out.append(
                        Draft(
                            Part(
                                more.text,
                                "consumed" if more.kind in text.trade.kinds["used_up"] else owner.action,
                                more.count,
                                more.unit,
                            ),
                            more.start,
                            more.end,
                            score=0.88,
                            doubts=()
                            if counted
                            else ("listed after a part, without saying that it was fitted",),
                            keys=((more.start, more.end),),
                        )
                    )
            i = run.end
    return out


def _part(draft: Draft) -> Part:
    assert isinstance(draft.detail, Part)
    return draft.detail


def _with(part: Part, key: str, value: str) -> Part:
    return replace(part, serial=value) if key == "serial" else replace(part, number=value)


def _taken_off(text: Text, i: int, works: Sequence[Work]) -> Name | None:
    """The thing that came off and whose number is told right after it."""
    for work in reversed(works):
        if work.action == "removed" and not work.part and work.end <= i and i - work.end <= 3:
            return work.objects[-1] if work.objects and work.objects[-1].kind else None
    return None


def _target(text: Text, drafts: list[Draft], i: int, end: int, key: str) -> int | None:
    named = name_before(text, i, max(0, i - 6))
    if named is not None and named.kind:
        head = named.text.split()[-1].casefold()
        same = [
            n
            for n, d in enumerate(drafts)
            if head in _part(d).name.casefold()
            and abs(d.start - i) < 80
            and getattr(d.detail, key) is None
            and _part(d).action == "fitted"
        ]
        if same:
            return min(same, key=lambda n: abs(drafts[n].start - i))
    before = [n for n, d in enumerate(drafts) if d.keys[0][0] <= i and i - d.keys[0][1] < 30]
    if before:
        n = before[-1]
        if getattr(drafts[n].detail, key) is None:
            return n
    after = [n for n, d in enumerate(drafts) if d.keys[0][0] >= end and d.keys[0][0] - end < 8]
    return after[0] if after else None
