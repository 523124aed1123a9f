"""What identifies the job and the vehicle: job number, registration, VIN, odometer, engine hours."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal

from jobnotes.reading.speech.numbers import REPEATS, TENS, UNITS, Number
from jobnotes.reading.speech.spelling import Spelled, dictated, digits
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP
from jobnotes.record import Identity, IdentityKind

#: Letters that a vehicle identification number never holds (ISO 3779).
VIN_FORBIDDEN = frozenset("IOQ")
VIN_LENGTH = 17
_VALUES = dict(
    zip(
        "0123456789ABCDEFGHJKLMNPRSTUVWXYZ",
        [*range(10), 1, 2, 3, 4, 5, 6, 7, 8, 1, 2, 3, 4, 5, 7, 9, 2, 3, 4, 5, 6, 7, 8, 9],
        strict=True,
    )
)
_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)


def vin_check_digit(vin: str) -> str:
    """The check digit that `vin` (17 characters) should have in its ninth place.

    Source: 49 CFR 565.15(c), tables III and IV.
    """
    total = sum(_VALUES[c] * w for c, w in zip(vin, _WEIGHTS, strict=True)) % 11
    return "X" if total == 10 else str(total)


def identities(text: Text, *, spoken: bool = True) -> Iterator[Draft]:
    """What identifies the job and the vehicle. Of what is written rather than `spoken`, only what is called
    by its name: "KMH 120" on a dial is no registration."""
    spelled = list(_spelled(text))
    yield from spelled
    for kind, units in _METERS:
        yield from _metered(text, kind, units)
    called = any(isinstance(d.detail, Identity) and d.detail.kind == "registration" for d in spelled)
    if spoken and not called:
        yield from _uncalled_registration(text)


#: Meters, with the units that they may count in.
_METERS: tuple[tuple[IdentityKind, tuple[str, ...]], ...] = (
    ("odometer", ("km", "[mi_i]")),
    ("engine_hours", ("h",)),
)

#: Within so many breaths from the start of a job its vehicle is named.
_OPENING = 4
#: So long is a registration, without its gaps; common practice, no source.
_SHORTEST, _LONGEST = 5, 8


def _up_to_comma(text: Text, run: Spelled) -> Spelled:
    """ "Job 3391, QIK 551": a job number of figures ends where letters follow a comma."""
    for k in range(run.start + 1, run.end):
        if (
            text.tokens[k].gap == COMMA
            and text.norm(k)[:1].isalpha()
            and all(n.isdigit() for n in text.norms[run.start : k])
        ):
            return Spelled(run.start, k, "".join(text.norms[run.start : k]), run.exact)
    return run


def _before_a_meter(text: Text, run: Spelled) -> Spelled:
    """ "yankee kilo two one echo foxtrot golf, 312 on the clock": where a comma ends a registration, and what
    follows it is on a meter."""
    for k in range(run.start + 1, run.end):
        if text.tokens[k].gap == COMMA and all(n.isdigit() for n in text.norms[k : run.end]):
            metered = any(_named_behind(text, kind, run.end) for kind, _ in _METERS)
            whole = run.text.removesuffix("".join(text.norms[k : run.end]))
            return Spelled(run.start, k, whole, run.exact) if metered and whole else run
    return run


def _named_behind(text: Text, kind: IdentityKind, end: int) -> tuple[int, str] | None:
    """What names the meter behind its reading, which ends at `end`: "312 on the clock"; but the name is that
    of the number behind it where one follows: "… four one eight, engine hours two thousand"."""
    after = text.cue(f"identity.{kind}_after", end)
    if after is not None and text.cue(f"identity.{kind}", end) is not None:
        number = text.number(after[0])
        if number is not None and text.tokens[after[0]].gap < STOP:
            return None
    return after


def _uncalled_registration(text: Text) -> Iterator[Draft]:
    """ "the lorry quebec india six three juliet whiskey kilo": letters and digits beside a vehicle, at the
    start, that nobody called its registration."""
    for start in text.stops[:_OPENING]:
        end = text.breath(start)[1]
        i = start
        while i < end:
            run = text.spelled(i) if text.free(i, i + 1) else None
            if run is None:
                i += 1
                continue
            figures = sum(c.isdigit() for c in run.text)
            letters = sum(c.isalpha() for c in run.text)
            fits = figures >= 1 and letters >= 2 and _SHORTEST <= len(run.text) <= _LONGEST
            beside = set(text.norms[max(start, i - _BESIDE) : i]) & text.trade.words["beside_registration"]
            if (
                text.trade.components.at(text.norms, i)[1]
                or text.norm(i - 2) in text.trade.words["exchanged"]
            ):
                beside = set()  # "tractor, p t o 540", "an exchange unit, papa 4 4 …"
            if not beside and figures >= 2 and letters >= 3 and _alone(text, run):
                beside = {"job"}  # "Job 6161. QI08 STE. 480,000 km."
            code = text.trade.cue["codes"].at(text.norms, i - 1)[1] if i else ()
            if fits and beside and run.text.isalnum() and not code and text.sense(i) is None:
                doubt = "nobody said that it is the registration"
                text.claim(run.start, run.end)
                detail = Identity("registration", run.text)
                yield Draft(detail, run.start, run.end, 0.7, (doubt,), keys=((run.start, run.end),))
                return
            i = run.end


#: The shape of a trouble code by ISO 15031-6, which is no registration.
_TROUBLE_CODE = re.compile(r"[PCBU][0-3][0-9A-F]{3}")


def _alone(text: Text, run: Spelled) -> bool:
    """Between breaks, and in no shape that other strings have."""
    if _TROUBLE_CODE.fullmatch(run.text):
        return False
    closed = not text.goes_on(run.end)
    spelled = run.end - run.start >= _SHORTEST  # by its letters, one by one
    closed = closed or (spelled and text.norm(run.end) == "and")
    opens = text.tokens[run.start].gap > NO_BREAK or (
        spelled and text.norm(run.start - 1) in ("it's", "that's")
    )
    return closed and opens


#: So many tokens behind the vehicle's name its registration may begin.
_BESIDE = 6


#: A string of so many figures counts nothing: "work order 55063 day cab".
_NO_AMOUNT = 4
#: So far nobody drives for a test, in either unit.
FAR = 10_000
#: So many hours are nobody's labour on one job.
MANY_HOURS = 200


def _after(text: Text, j: int) -> int:
    while True:
        step = text.cue("identity.is_words", j)
        if step is None:
            return j
        j = step[0]


_SPELLED: tuple[IdentityKind, ...] = ("job_number", "registration", "vin")


def _spelled(text: Text) -> Iterator[Draft]:
    free = 0
    for i in text.where(*(f"identity.{kind}" for kind in _SPELLED)):
        if i < free:
            continue
        best: tuple[int, IdentityKind] | None = None
        for kind in _SPELLED:
            found = text.cue(f"identity.{kind}", i)
            if found and (best is None or found[0] > best[0]):
                best = (found[0], kind)
        if (
            best is None
            or not text.free(i, best[0])
            or (
                (text.norm(i - 1) in ("new", "back", "name") and text.tokens[i].gap == NO_BREAK)
                or text.norms[max(0, i - 2) : i] in (["on", "the"], ["off", "the"])
            )
        ):
            continue
        end, kind = best
        j = _after(text, end)
        gap = max((text.tokens[k].gap for k in range(end, min(j + 1, len(text.tokens)))), default=STOP)
        run = text.spelled(j, 24) if j < len(text.tokens) and gap < STOP else None
        if run is None and gap < STOP and kind == "job_number" and end - i > 1:
            run = digits(text.tokens, j, text.trade)  # "job number to one ate six"
        heard = _as_heard(text, j) if kind == "job_number" and gap == NO_BREAK else None
        if heard is not None and (run is None or heard.end > run.end):
            run = heard  # "job for one seven oh", "job six one ate"
        if run is not None and kind == "job_number":
            run = _up_to_comma(text, run)
        if run is not None and kind == "registration":
            run = _before_a_meter(text, run)
        if run is None and kind == "registration" and (late := _put_in(text, j)) is not None:
            j, run = late.start, late
        told_first = _before_is(text, i)
        if told_first is not None and text.free(told_first.start, i):
            text.claim(told_first.start, end)
            yield Draft(
                Identity(kind, told_first.text),
                told_first.start,
                end,
                0.93,
                keys=((told_first.start, told_first.end),),
            )
            free = end
            continue
        if run is None or (run is not heard and not _fits(text, kind, run.text, i, end, j)):
            free = end
            continue
        if kind == "registration" and run.text.isdigit() and _bounds(text, run.end):
            free = end  # "the plate says one twenty maximum"
            continue
        if (
            run.end < len(text.tokens)
            and text.unit_follows(run.end)
            and text.tokens[run.end].gap == NO_BREAK
            and kind == "job_number"
            and len(run.text) < _NO_AMOUNT
            and not _meter_follows(text, run.end)
        ):
            free = end
            continue
        doubts: list[str] = []
        rest = range(run.end, min(run.end + 4, text.breath(i)[1]))
        if any(text.trade.letters.at(text.norms, k)[1] for k in rest) and kind != "job_number":
            doubts.append(f"more was spelled after {run.text}")
        if not run.exact:
            doubts.append(f"{run.text}: a letter or digit was heard as another word")
        if text.tokens[run.end - 1].gap == COMMA and text.goes_on(run.end) and text.numeric[run.end]:
            doubts.append(f"'{text.norm(run.end - 1)}' at the end of {run.text} may begin what follows")
        after = text.norm(run.end)
        if after in ("ate", "won", "too", "fore", "wun") and text.tokens[run.end].gap == NO_BREAK:
            doubts.append(f"'{after}' after {run.text} may be one more digit")
        value = run.text
        if kind == "registration":
            value = _printed(text, run) or value
        if kind == "vin":
            value = value.replace("-", "").replace("/", "")
            if len(value) == VIN_LENGTH and not set(value) & VIN_FORBIDDEN:
                if vin_check_digit(value) != value[8] and value[8] in "0123456789X":
                    due = vin_check_digit(value)
                    doubts.append(f"its check digit would be {due}, not {value[8]}; not every maker uses one")
            elif len(value) > 8 or set(value) & VIN_FORBIDDEN:
                doubts.append(
                    f"{len(value)} characters were heard; a full one has {VIN_LENGTH}, without I, O and Q"
                )
        text.claim(i, run.end)
        yield Draft(Identity(kind, value), i, run.end, 0.95, tuple(doubts), keys=((j, run.end),))
        free = run.end


def _as_heard(text: Text, j: int) -> Spelled | None:
    """Digits one by one, of which some were heard as other words: always for a person to check."""
    run = digits(text.tokens, j, text.trade, gap=NO_BREAK)
    one_by_one = run is not None and run.end - j == len(run.text) >= 3
    return run if run is not None and one_by_one and not run.exact else None


def _printed(text: Text, run: Spelled) -> str | None:
    """ "Q I O 519": where figures are printed, an O between letters is the letter; else None."""
    said = text.norms[run.start : run.end]
    if "o" not in said or not any(n.isdigit() for n in said):
        return None
    plain = all(n.isdigit() or (len(n) == 1 and n.isalpha()) for n in said)
    return "".join(said).upper() if plain else None


#: So many tokens at most may be put in between "registration" and what it is.
_PUT_IN = 8


def _put_in(text: Text, j: int) -> Spelled | None:
    """ "reg, I never gave it, is QIB 315": the registration behind words that are put in between commas."""
    if j >= len(text.tokens) or text.tokens[j].gap != COMMA:
        return None
    for k in range(j + 1, min(j + _PUT_IN, text.breath(j)[1])):
        if text.tokens[k].gap != COMMA:
            continue
        start = k + (text.norm(k) == "is")
        run = text.spelled(start, 24)
        letters = sum(c.isalpha() for c in run.text) if run is not None else 0
        fits = run is not None and _SHORTEST <= len(run.text) <= _LONGEST and letters >= 2
        return run if fits and run is not None and len(run.text) - letters >= 2 else None
    return None


def _bounds(text: Text, i: int) -> bool:
    """A word of limit or a unit follows a number."""
    roles = ("max_after", "min_after", "nominal_after")
    limit = any(text.cue(f"limits.{role}", i) for role in roles)
    return limit or text.unit_follows(i)


def _before_is(text: Text, i: int) -> Spelled | None:
    """ "nineteen oh five six is the job number": the string that stands before its name."""
    if text.norms[max(0, i - 2) : i] not in (["is", "the"], ["is", "my"], ["was", "the"]):
        return None
    for k in range(max(text.breath(i)[0], i - 14), i - 2):
        run = text.spelled(k, 24)
        if run is not None and run.end == i - 2 and run.exact and sum(c.isdigit() for c in run.text) >= 2:
            return run
    return None


def _fits(text: Text, kind: IdentityKind, value: str, i: int, end: int, j: int) -> bool:
    plain = value.replace("-", "").replace("/", "")
    if not any(c.isdigit() for c in plain):
        return False
    if kind == "job_number":
        if text.norms[i:end] == ["job"]:
            return (
                len(plain) >= 2
                and text.tokens[j].gap == NO_BREAK
                and (
                    text.number(j) is not None
                    or (text.norm(j) in REPEATS and text.number(j + 1) is not None)
                    or ("-" in value and sum(c.isdigit() for c in value) >= 2)
                    or (plain[0].isalpha() and len(plain) <= 8 and sum(c.isdigit() for c in plain) >= 3)
                )
                and (text.norm(i - 1) not in text.trade.words["before_no_job"] or text.norm(end) == "is")
                and text.norm(end) != "at"
            )
        return len(plain) >= 2
    if kind == "vin":
        return len(plain) >= 5
    if kind == "registration" and plain.isdigit() and "tag" in text.norms[i:j]:
        near = text.norms[max(text.breath(i)[0], i - _TAGGED) : min(text.breath(end)[1], end + _TAGGED)]
        if not text.trade.words["kept_parts"].isdisjoint(near):
            return False  # "the old pump is in the cage, tag 0091"
    return 2 <= len(plain) <= 10


#: So many tokens beside the number of a tag what it is on may be told.
_TAGGED = 10


def _unit_named(text: Text, i: int, units: tuple[str, ...]) -> str | None:
    meanings = text.trade.unit_forms.at(text.norms, i)[1]
    return next((unit.ucum for unit, _ in meanings if unit.ucum in units), None)


def _meter_follows(text: Text, i: int) -> bool:
    """ "job 2211 miles three hundred thousand", "job 812 hours meter 5430": no unit, but a meter's name."""
    for kind, units in _METERS:
        cue = text.cue(f"identity.{kind}", i)
        value = _big(text, _after(text, cue[0]), units) if cue is not None else None
        if value is not None and value[1] is None and Decimal(value[0]) >= MANY_HOURS:
            return True
    return False


def _opens_a_meter(text: Text, i: int) -> bool:
    """Whether "hours" or "miles" at `i` can name a meter: it opens a statement, or stands behind the vehicle
    ("quarry dumper hours 4410", "truck number twelve hours 2904") or what was told before it."""
    if i == text.breath(i)[0] or text.tokens[i].gap > NO_BREAK or text.claimed[i - 1]:
        return True
    if text.norm(i - 1) == "and" and i > 1 and text.claimed[i - 2]:
        return True  # "registration … two seven three and kilometres are …"
    vehicles = text.trade.words["beside_registration"] | text.trade.general
    owner = text.norm(i - 1).isalpha() and text.norm(i - 1) not in (
        text.trade.words["labour_words"] | text.trade.stop | text.trade.words["work_verbs"]
    )
    if owner and (i - 1 == text.breath(i)[0] or text.tokens[i - 1].gap > NO_BREAK):
        return text.number(i - 1) is None  # "…, body hours 6,902"
    k = i - 1
    while k > 0 and text.number(k) is not None and text.tokens[k].gap == NO_BREAK:
        k -= 1
    if k < i - 1 and text.norm(k) in ("number", "no"):
        return text.norm(k - 1) in vehicles
    return text.norm(k) in vehicles


def _metered(text: Text, kind: IdentityKind, units: tuple[str, ...]) -> Iterator[Draft]:
    free = 0
    names = text.trade.cue[f"identity.{kind}"].first_words
    for i, norm in enumerate(text.norms):
        if i < free or not (text.numeric[i] or norm in names):
            continue  # most often
        cue = text.cue(f"identity.{kind}", i)
        if cue is not None and text.free(i, cue[0]):
            j = _after(text, cue[0])
            while text.norm(j) in text.trade.words["before_meter_value"]:
                j = _after(text, j + 1)
            value = _big(text, j, units)
            if kind == "odometer" and text.norm(i - 1) in ("hours", "hour"):
                free = cue[0]
                continue  # "hours on the clock are …"
            least = MANY_HOURS if kind == "engine_hours" else FAR
            if value is not None and value[1] is None and text.norms[i : cue[0]] == ["done"]:
                value = value if Decimal(value[0]) >= least else None  # "I'm done at 4"
            if value is not None and value[1] is None and text.norms[i : cue[0]] == ["on", "the", "clock"]:
                value = value if Decimal(value[0]) >= least else None  # "job 5508 on the clock eight wheeler"
            if " ".join(text.norms[i : cue[0]]) in text.trade.words["meter_units"] and (
                value is None or Decimal(value[0]) < least or not _opens_a_meter(text, i)
            ):
                value = None
            if value is not None and kind == "odometer" and text.norm(i) in text.trade.words["meter_units"]:
                value = value[0], value[1] or _unit_named(text, i, units), value[2]
            elif value is not None and kind == "odometer" and value[1] is None:
                value = value[0], _unit_named(text, cue[0] - 1, units), value[2]  # "I write kilometre …"
            if (
                value is not None
                and (text.tokens[j].gap < STOP or j == cue[0])
                and not (
                    text.norms[i] in text.trade.words["vehicle_told"]
                    and (value[1] is None or len(value[0]) < 4)
                )
            ):
                yield _meter_draft(text, kind, i, j, *value)
                free = value[2]
                continue
        value = _big(text, i, units) if text.free(i, i + 1) else None
        if value is not None and kind == "engine_hours" and _like_a_span(text, i):
            free = value[2]
            continue
        if value is not None:
            after = _named_behind(text, kind, value[2])
            if after is None and value[1] in units and _stands_alone(text, kind, i, value):
                yield _meter_draft(text, kind, i, i, *value)  # "5,540 hours."
                free = value[2]
                continue
            if after is not None and _may_be_else(text, kind, value, after[0]):
                free = value[2]
                continue
            if (
                after is not None
                and text.tokens[value[2]].gap < STOP
                and (len(value[0]) >= 4 or value[1] is not None)
            ):
                yield _meter_draft(text, kind, i, i, value[0], value[1], after[0])
                free = after[0]
                continue


def _stands_alone(text: Text, kind: IdentityKind, i: int, value: tuple[str, str | None, int]) -> bool:
    """ "Job 2071, 5,540 hours.": a meter's reading by its size, between breaks or after the vehicle."""
    least = MANY_HOURS if kind == "engine_hours" else FAR
    if Decimal(value[0]) < least:
        return False
    shown = text.ends_at(text.trade.cue["identity.meter_shows"], i, 4) is not None  # "it's on 6112.5 hours"
    vehicles = text.trade.words["beside_registration"] | text.trade.general
    holder = text.norm(i - 2).removesuffix("'s")
    at = text.norm(i - 1) in ("at", "got", "has") and holder in vehicles and value[1] is not None
    behind = i - 1 - (text.norm(i - 1) == "and")
    told = behind >= 0 and i > 0 and text.claimed[behind] and value[1] is not None  # behind another identity
    opens = i == 0 or text.tokens[i].gap > NO_BREAK or text.norm(i - 1) in text.trade.general
    spelled = value[1] is not None and bool(
        text.ends_at(text.trade.letters, i, 2)
    )  # "… golf hotel 610000 km"
    opens = opens or shown or at or told or spelled
    end = value[2]
    closes = not text.goes_on(end) or text.opens_clause(end)
    closes = closes or text.norm(end) == "and"
    return opens and closes and text.sense(i) is None


def _may_be_else(text: Text, kind: IdentityKind, value: tuple[str, str | None, int], end: int) -> bool:
    """ "six and a half hours on it today", "put forty kilometres on it": small, and no meter is named."""
    least = MANY_HOURS if kind == "engine_hours" else 1000
    return not names_a_meter(text, value[2], end) and Decimal(value[0]) < least


def names_a_meter(text: Text, start: int, end: int) -> bool:
    return bool({"meter", "clock", "odometer", "odo", "speedo", "dash"} & set(text.norms[start:end]))


def _like_a_span(text: Text, i: int) -> bool:
    """ "two forty five hours": more likely two hours and three quarters."""
    number = text.number(i)
    return number is not None and len(number.atoms) == 2 and number.value < 1000


#: A time of day in figures.
_TIME_WRITTEN = re.compile(r"\d{1,2}:\d\d(?!\d)")


def _big(text: Text, j: int, units: tuple[str, ...]) -> tuple[str, str | None, int] | None:
    """(value, unit, end) of a meter reading: "312 thousand k", "three one two four five five kilometres"."""
    number = text.number(j)
    if number is None or number.value < 0 or _TIME_WRITTEN.match(text.tokens[j].text):
        return None  # "on it 7:30, done 11:00" is no meter's reading
    value, end = number.text, number.end
    if "." not in value and len(number.atoms) > 1:
        value = "".join(number.atoms)
    run = (
        digits(text.tokens, j, text.trade, due=False, gap=NO_BREAK) if dictated(text.tokens[j].text) else None
    )
    if run is not None:
        value, end = run.text, run.end
    while "." not in value and len(value) <= 4 and end < len(text.tokens) and text.tokens[end].gap == COMMA:
        group = digits(text.tokens, end, text.trade, due=False, gap=NO_BREAK, longest=4)
        if group is None or len(group.text) != 3:
            break
        value, end = value + group.text, group.end  # "four one eight, two zero six"
    unit: str | None = None
    if text.norm(end) == "k" and text.norm(end + 1) not in ("ohms", "p", "ohm"):
        if units[0] != "km":
            return None
        # "312 k" is thousands, "312455 k" kilometres, "312 thousand k" both said
        if Decimal(value) < 2000 and "." not in value:
            value = str(int(Decimal(value) * 1000))
        unit, end = "km", end + 1
    else:
        found, meanings = text.trade.unit_forms.at(text.norms, end)
        if meanings and meanings[0][0].ucum in units and text.tokens[end].gap < STOP:
            unit, end = meanings[0][0].ucum, found
        elif meanings:
            return None
    return value, unit, end


def _meter_draft(
    text: Text, kind: IdentityKind, start: int, key: int, value: str, unit: str | None, end: int
) -> Draft:
    doubts: list[str] = []
    amount = Decimal(value)
    if kind == "odometer" and not Decimal(10) <= amount <= Decimal(5_000_000):
        doubts.append(f"an odometer of {value} is unusual")
    if kind == "engine_hours" and amount > Decimal(200_000):
        doubts.append(f"{value} engine hours are unusual")
    if text.norm(end) == "and" and (text.number(end + 1) is not None or value.endswith("00")):
        doubts.append(f"the number may go on: '{text.said(key, min(end + 2, len(text.tokens)))}'")
    number = text.number(key)
    if key > 0 and text.goes_on(key) and _digit_between(text, key):
        doubts.append(f"'{text.said(key - 1, end)}': where does the number begin?")
    if (
        number is not None
        and not number.exact
        and not (len(number.atoms) > 1 and _plain_groups(number.atoms) and not _run_together(text, number))
    ):
        doubts.append(f"'{text.said(number.start, number.end)}' can be read in more than one way")
    text.claim(start, end)
    shown = unit or ("h" if kind == "engine_hours" else None)
    return Draft(Identity(kind, value, shown), start, end, 0.94, tuple(doubts), keys=((key, end),))


def _run_together(text: Text, number: Number) -> bool:
    """ "seven hundred and forty two hundred and ten": a "thousand" is lost; whose is the "two"?"""
    return any(
        text.norm(k) == "hundred" and text.norm(k - 1) in UNITS and text.norm(k - 2) in TENS
        for k in range(number.start, number.end)
    )


def _digit_between(text: Text, i: int) -> bool:
    """ "… charlie, one one hundred and four thousand": a digit before the number at `i`, of what else?"""
    digit = text.norm(i - 1) in UNITS or text.norm(i - 1) in TENS
    digit = digit and text.norm(i) != "hundred"
    return digit and (not text.claimed[i - 1] or text.tokens[i - 1].gap == COMMA)


def _plain_groups(atoms: tuple[str, ...]) -> bool:
    """Groups that can only be put in a row: single digits, or pairs and threes as read off a display."""
    return all(len(a) <= 3 for a in atoms) and not any(len(a) == 3 and a.endswith("00") for a in atoms[:-1])
