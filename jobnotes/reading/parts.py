"""Parts: fitted, removed for good, re-used, ordered, consumed; pieces, number, serial, new or old."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

from jobnotes.reading.names import Name, name_at, name_before, names_at
from jobnotes.reading.text import Draft, Text
from jobnotes.reading.tokens import COMMA, NO_BREAK
from jobnotes.reading.verbs import Work
from jobnotes.record import Part, Repair


def parts(text: Text, works: Sequence[Work]) -> Iterator[Draft]:
    """Every part with an action; part numbers and serials said nearby are attached."""
    from_verbs = list(_from_verbs(text, works))
    found = [*from_verbs, *_named_new(text, works), *_with(text, from_verbs, works), *_kept(text)]
    found += _listed(text, found, works)
    found.sort(key=lambda d: d.start)
    found = [_counted_after(text, d) for d in found]
    unique: list[Draft] = []
    for draft in found:
        if not any(_same(draft, other) for other in unique):
            unique.append(draft)
    kept: list[Draft] = []
    for draft in _numbered(text, unique, works):
        if not any(_same(draft, other) for other in kept):
            kept.append(draft)
    yield from kept


def _counted_after(text: Text, draft: Draft) -> Draft:
    """ "flange bolts were renewed, sixteen of them": the number of pieces comes last."""
    part = draft.detail
    assert isinstance(part, Part)
    number = text.number(draft.end) if part.quantity is None and draft.end < len(text.tokens) else None
    if number is None or text.tokens[draft.end].gap > COMMA:
        return draft
    tail = text.norms[number.end : number.end + 2]
    if tail == ["of", "them"] or tail[:1] == ["off"]:
        return replace(
            draft,
            detail=replace(part, quantity=number.value),
            end=number.end + len(tail[:2] if tail[0] == "of" else tail[:1]),
        )
    return draft


def _same(a: Draft, b: Draft) -> bool:
    """Two readings of the same words."""
    return bool(a.keys and b.keys) and max(a.keys[0][0], b.keys[0][0]) < min(a.keys[0][1], b.keys[0][1])


def _from_verbs(text: Text, works: Sequence[Work]) -> Iterator[Draft]:
    for at, work in enumerate(works):
        verb = work.start if not work.passive else max(work.start, work.end - 1)
        filled = not work.part and work.action == "filled"
        if not work.part and not filled:
            continue
        if (
            text.sense(verb) is not None
            or text.negated_before(verb)
            or (work.passive and text.negated(work.start, work.end))
        ):
            continue
        doubts: list[str] = []
        repairs: tuple[Repair, ...] = ()
        objects = list(work.objects)
        if work.form in ("fit it", "fit", "fitted it") and not (
            objects and not objects[0].pronoun and work.form == "fit"
        ):
            heard = _fitted_misheard(text, work)
            if heard is not None:
                objects = [heard]
                repairs = (
                    Repair(
                        text.said(work.start, heard.end),
                        f"fitted {heard.count or ''} {heard.text}".replace("  ", " "),
                    ),
                )
                doubts.append(f"heard as '{text.said(work.start, heard.end)}'")
        if work.tense == "base" and not work.subject and not repairs and work.form != "fit":
            start, _ = text.clause(work.start)
            if not (work.start == start or text.norm(work.start - 1) in ("and", "then", "now", "so")):
                continue
            doubts.append(f"heard as '{text.said(work.start, work.end)}': was it done, or still to do?")
        if work.form == "fit" and not work.subject and not repairs:
            start, _ = text.clause(work.start)
            if work.start > start and text.norm(work.start - 1) not in text.trade.words["before_fit"]:
                continue
            doubts.append("heard as 'fit': was it done, or still to do?")
        for name in objects:
            action = work.action if work.part else "consumed"
            if name.kind == "everything" or name.pronoun:
                continue
            if filled and name.unit is None:
                continue
            if (
                action == "fitted"
                and name.condition == "used"
                and work.form not in text.trade.replaces
                and _was_off(text, name)
            ):
                continue
            if (
                action == "fitted"
                and name.kind in text.trade.kinds["used_up"]
                and work.form not in text.trade.replaces
            ):
                action = "consumed"
            if (
                action == "consumed"
                and not filled
                and not (
                    name.kind in text.trade.kinds["used_up"]
                    or name.unit
                    or (work.form == "used" and name.kind and name.count)
                )
            ):
                continue
            if (
                action == "reused"
                and work.form in text.trade.words["reused_if_old"]
                and name.condition != "used"
                and not _old_near(text, work)
            ):
                continue
            if action == "fitted" and not name.kind and work.form in text.trade.part_splits:
                continue  # "put hands in"
            if work.form == "kept" and (not name.kind or _for_warranty(text, work)):
                continue
            if action == "fitted" and name.kind in text.trade.kinds["test_gear"] and name.condition != "new":
                continue
            if (
                action == "fitted"
                and not name.kind
                and name.condition != "new"
                and work.form in text.trade.words["loosely_fitted"]
            ):
                continue
            if work.form in text.trade.words["going_on"] and name.condition != "new":
                continue
            condition = name.condition if action != "reused" else None
            if action == "fitted" and work.form in text.trade.replaces:
                condition = "new" if _with_new(text, work) else (condition if condition == "new" else None)
            more = (
                ()
                if name.exact
                else (f"the number of pieces was heard as '{text.said(name.start, name.start + 1)}'",)
            )
            yield Draft(
                Part(name.text, action, name.count, name.unit, condition=condition),  # type: ignore[arg-type]
                work.start,
                max(work.end, name.end),
                score=0.95 if name.kind else 0.85,
                doubts=(*doubts, *more),
                repairs=repairs,
                keys=((name.start, name.end),),
            )


def _fitted_misheard(text: Text, work: Work) -> Name | None:
    """ "fit it to new clamps" is how a recogniser writes "fitted two new clamps"."""
    i = work.start + len(work.form.split())
    if work.form == "fit" and text.norm(i) == "it":
        i += 1
    if text.norm(i) in text.trade.homophones and text.norm(i + 1) == "new":
        name = name_at(text, i + 1)
        if name and name.kind:
            count = Decimal(text.trade.homophones[text.norm(i)])
            return replace(name, start=i, count=count)
    name = name_at(text, i)
    if name and name.kind and name.condition == "new" and not name.pronoun and text.norm(i) not in ("to",):
        return name
    return None


def _was_off(text: Text, name: Name) -> bool:
    return text.norm(name.end) in ("back", "again")


def _for_warranty(text: Text, work: Work) -> bool:
    start, end = text.sentence(work.start)
    words = set(text.norms[start:end])
    return bool(words & {"warranty", "claim", "maker", "manufacturer", "customer", "tagged", "bagged"})


def _old_near(text: Text, work: Work) -> bool:
    start, end = text.clause(work.start)
    words = text.norms[start : min(end + 6, len(text.norms))]
    return any(w in ("old", "original", "over", "across", "existing") for w in words)


def _with_new(text: Text, work: Work) -> bool:
    tail = text.norms[work.end : work.end + 5]
    return tail[:1] in (["with"], ["for"]) and "new" in tail


def _named_new(text: Text, works: Sequence[Work]) -> Iterator[Draft]:
    """ "… and a new gasket", "with new copper washers": a new part that no verb took along."""
    taken = [(o.start, o.end) for w in works if w.part for o in w.objects]
    i = 0
    while i < len(text.tokens):
        if text.norm(i) != "new" or any(a <= i < b for a, b in taken):
            i += 1
            continue
        start = i
        while (
            start > 0
            and text.tokens[start].gap == NO_BREAK
            and (
                text.norm(start - 1) in text.trade.words["new_part_lead"]
                or text.number(start - 1) is not None
                and text.number(start - 1).end == start  # type: ignore[union-attr]
            )
        ):
            start -= 1
        name = name_at(text, start)
        prev = text.norm(start - 1)
        if (
            name is None
            or name.kind is None
            or name.kind in text.trade.kinds["test_gear"]
            or prev in text.trade.words["before_no_new_part"]
            or text.sense(i) is not None
            or text.negated_before(i)
            or _photo_clause(text, i)
            or _followed_by_reading(text, name.end)
        ):
            i += 1
            continue
        before = [w for w in works if w.part and w.start <= start and start - w.end < 25]
        action = (
            before[-1].action
            if before
            and before[-1].action in ("ordered",)
            and text.sentence(before[-1].start) == text.sentence(i)
            else "fitted"
        )
        if name.kind in text.trade.kinds["used_up"]:
            action = "consumed"
        linked = (
            prev in text.trade.words["before_new_part"]
            or any(
                not w.passive and text.sentence(w.start) == text.sentence(i)
                for w in works
                if w.start <= start and w.action in ("fitted", "repaired", "refitted", "reconnected")
            )
            or any(w.passive and w.part and w.start >= start and w.start - name.end < 4 for w in works)
        )
        after = text.norm(name.end)
        doubts = (
            ()
            if linked or after in ("fitted", "installed", "on", "in") or text.clause(i)[0] >= start - 1
            else ("a new part was named, but not that it was fitted",)
        )
        yield Draft(
            Part(name.text, action, name.count, name.unit, condition="new"),  # type: ignore[arg-type]
            start,
            name.end,
            score=0.88,
            doubts=doubts,
            keys=((name.start, name.end),),
        )
        i = max(name.end, i + 1)
        for more in _list_goes_on(text, name.end, works):
            if text.norm(more.start) == "new" or more.condition == "new":
                break
            yield Draft(
                Part(
                    more.text,
                    "consumed" if more.kind in text.trade.kinds["used_up"] else "fitted",
                    more.count,
                    more.unit,
                ),  # type: ignore[arg-type]
                more.start,
                more.end,
                score=0.8,
                doubts=("listed after a new part, without saying that it was fitted",),
                keys=((more.start, more.end),),
            )


def _list_goes_on(text: Text, i: int, works: Sequence[Work]) -> Iterator[Name]:
    """ "new filter, pan gasket and the sensor": bare names that go on after the first."""
    end = text.breath(i - 1)[1]
    while i < end:
        if text.norm(i) in ("and", "plus", "with"):
            i += 1
        elif text.tokens[i].gap != COMMA:
            return
        name = name_at(text, i, end)
        if name is None or name.kind is None or name.pronoun or name.condition == "used":
            return
        closed = (
            name.end >= end
            or text.tokens[name.end].gap > NO_BREAK
            or text.norm(name.end) in ("and", "plus", "too")
        )
        if not closed or any(w.start <= name.start < w.end for w in works):
            return
        yield name
        i = name.end


def _photo_clause(text: Text, i: int) -> bool:
    start, end = text.clause(i)
    return bool(text.find(text.trade.cue["photo.cues"], start, end))


def _followed_by_reading(text: Text, i: int) -> bool:
    return text.norm(i) in ("reads", "measures", "is", "shows", "was")


def _with(text: Text, from_verbs: Sequence[Draft], works: Sequence[Work]) -> Iterator[Draft]:
    """What something was done with: "secured with two cable ties", "pump replaced, with gasket"."""
    for i, norm in enumerate(text.norms):
        if norm not in ("with", "using", "plus"):
            continue
        if text.sense(i) is not None or text.negated_before(i):
            continue
        sentence = text.sentence(i)
        breath = text.breath(i)
        fitted = [d for d in from_verbs if breath[0] <= d.start < i and _action(d) == "fitted"] or [
            w for w in works if breath[0] <= w.start < i and w.action == "repaired"
        ]
        for name in names_at(text, i + 1, sentence[1]):
            if (
                norm == "with"
                and fitted
                and name.condition == "used"
                and name.definite
                and name.kind
                and not name.pronoun
            ):
                yield Draft(
                    Part(name.text, "reused", name.count),
                    i,
                    name.end,
                    score=0.9,
                    keys=((name.start, name.end),),
                )
                continue
            if name.pronoun or name.condition == "used" or name.definite:
                break
            if name.kind in text.trade.kinds["used_with"] or (
                name.kind in text.trade.kinds["poured"] and name.unit
            ):
                action = "consumed"
            elif (
                norm == "with"
                and fitted
                and name.kind
                and name.kind not in text.trade.kinds["not_fitted_with"]
            ):
                action = "fitted"
            else:
                break
            yield Draft(
                Part(
                    name.text,
                    action,
                    name.count,
                    name.unit,
                    condition="new" if name.condition == "new" else None,
                ),  # type: ignore[arg-type]
                i,
                name.end,
                score=0.9,
                keys=((name.start, name.end),),
            )


def _action(draft: Draft) -> str:
    assert isinstance(draft.detail, Part)
    return draft.detail.action


def _listed(text: Text, found: Sequence[Draft], works: Sequence[Work]) -> Iterator[Draft]:
    """A stretch that only counts things, said after parts were fitted: "one copper washer, one pipe"."""
    borders = sorted(
        {*text.sentences, *(i for i, t in enumerate(text.tokens) if t.gap > NO_BREAK), len(text.tokens)}
    )
    start = 0
    for border in borders:
        first, end, start = start, border, border
        if text.norm(first) in ("and", "plus", "used"):
            first += 1
        names = names_at(text, first, end)
        if not names or any(
            n.kind is None or n.pronoun or n.kind in text.trade.kinds["test_gear"] for n in names
        ):
            continue
        if names[0].count is None and names[0].unit is None:
            continue
        tail = names[-1].end
        while tail < end and text.norm(tail) in text.trade.words["list_tail"]:
            tail += 1
        inside = [w for w in works if first <= w.start < end and w.form != "used"]
        if tail < end or inside or any(first <= d.start < end for d in found):
            continue
        breath = text.breath(first)
        before = [
            d for d in found if d.end <= first and first - d.end < 30 and _action(d) in ("fitted", "consumed")
        ]
        same = any(breath[0] <= d.start for d in before) or any(
            breath[0] <= w.start < first and w.action in ("repaired", "lubricated") for w in works
        )
        after_removal = any(
            breath[0] <= w.start < first
            and w.action in ("removed", "disconnected", "refitted", "tightened", "loosened")
            for w in works
        )
        used_up = all(n.kind in text.trade.kinds["used_up"] or n.unit for n in names)
        if (not before and not used_up and not same) or (after_removal and not used_up):
            continue
        for name in names:
            action = "consumed" if name.kind in text.trade.kinds["used_up"] or name.unit else "fitted"
            yield Draft(
                Part(
                    name.text,
                    action,
                    name.count,
                    name.unit,
                    condition="new" if name.condition == "new" else None,
                ),  # type: ignore[arg-type]
                name.start,
                name.end,
                score=0.85,
                doubts=() if same else ("listed without saying that it was fitted",),
                keys=((name.start, name.end),),
            )


def _kept(text: Text) -> Iterator[Draft]:
    """What left the vehicle for good and is kept for the claim, sent back or scrapped."""
    for i, j, _ in text.find(text.trade.cue["parts.kept"], 0, len(text.tokens)):
        if text.sense(i) is not None or text.negated_before(i):
            continue
        start, _ = text.sentence(i)
        end = i
        while end > start and text.norm(end - 1) in text.trade.words["before_kept"]:
            end -= 1
        name = name_before(text, end, start) or name_at(text, j)
        if name is None or name.pronoun or name.kind is None:
            continue
        yield Draft(
            Part(
                name.text,
                "removed",
                name.count,
                name.unit,
                condition="used" if name.condition == "used" else None,
            ),
            min(name.start, i),
            max(j, name.end),
            score=0.9,
            keys=((name.start, name.end),),
        )


def _numbered(text: Text, drafts: list[Draft], works: Sequence[Work]) -> list[Draft]:
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
                part = Part(gone.text, "removed", gone.count, **{key: run.text})  # type: ignore[arg-type]
                doubts = () if run.exact else (f"{run.text} holds a repaired letter or digit",)
                out.append(
                    Draft(part, gone.start, run.end, 0.9, doubts, keys=((gone.start, gone.end), (j, run.end)))
                )
                text.claim(i, run.end)
                i = run.end
                continue
            if target is None:
                i = run.end
                continue
            draft = out[target]
            assert isinstance(draft.detail, Part)
            doubts = draft.doubts
            if not run.exact:
                doubts = (
                    *doubts,
                    f"the {'part' if key == 'number' else 'serial'} number {run.text} holds a repaired letter or digit",
                )
            out[target] = replace(
                draft,
                detail=replace(draft.detail, **{key: run.text}),
                start=min(draft.start, i),
                end=max(draft.end, run.end),
                doubts=doubts,
                keys=(*draft.keys, (j, run.end)),
            )
            text.claim(i, run.end)
            if (
                key == "number"
                and draft.detail.action in ("fitted", "ordered")
                and text.norm(run.end) in ("and", "with")
            ):
                for more in _list_goes_on(text, run.end, works):
                    counted = (
                        more.count is not None
                        or more.condition == "new"
                        or text.norm(more.start) in ("a", "an")
                    )
                    out.append(
                        Draft(
                            Part(
                                more.text,
                                "consumed"
                                if more.kind in text.trade.kinds["used_up"]
                                else draft.detail.action,
                                more.count,
                                more.unit,
                            ),  # type: ignore[arg-type]
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
            if head in d.detail.name.casefold()
            and abs(d.start - i) < 80
            and getattr(d.detail, key) is None
            and d.detail.action == "fitted"
        ]  # type: ignore[union-attr]
        if same:
            return min(same, key=lambda n: abs(drafts[n].start - i))
    before = [n for n, d in enumerate(drafts) if d.keys[0][0] <= i and i - d.keys[0][1] < 30]
    if before:
        n = before[-1]
        part = drafts[n].detail
        assert isinstance(part, Part)
        if getattr(part, key) is None:
            return n
    after = [n for n, d in enumerate(drafts) if d.keys[0][0] >= end and d.keys[0][0] - end < 8]
    return after[0] if after else None
