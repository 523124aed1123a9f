"""Headings that open a statement ("cause is …", "I found …", "to do …"), and where the statement ends."""

from __future__ import annotations

from collections.abc import Mapping
from typing import get_args

from jobnotes.reading.speech.clauses import is_supposed
from jobnotes.reading.speech.names import name_at, name_before
from jobnotes.reading.speech.printed_code import written_as_code
from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP
from jobnotes.record import StatementKind

#: A statement ends after so many tokens, where nothing else ends it.
_LONGEST = 45
_KINDS: Mapping[str, StatementKind] = {kind: kind for kind in get_args(StatementKind)}


#: Kinds of statement, and whether their heading is part of what they say.
KEEPS_HEADING: Mapping[StatementKind, bool] = {
    "finding": False,
    "advisory": True,
    "loose_end": True,
    "hazard": True,
    "complaint": False,
    "cause": False,
    "correction": False,
}


def heading_at(text: Text, i: int) -> tuple[StatementKind, int, int, int] | None:
    """(kind, body start, start of the quote, end) of the statement whose heading is at `i`."""
    cue = text.cue("headings", i)
    if cue is None or text.claimed[i]:
        return None
    end, kind = cue[0], _KINDS[cue[1]]
    told_last = kind == "complaint" and i > 1  # "no power, the driver says"
    if end >= len(text.tokens) and not KEEPS_HEADING[kind] and not told_last:
        return None
    phrase = text.norms[i:end]
    start, _ = text.clause(i)
    prev = text.norm(i - 1)
    named = prev in ("complaint", "complaints", "fault")
    if kind == "complaint" and "no" in (prev, text.norm(i - 2) if named else prev):
        return None  # "inspection, no complaint reported"
    if phrase == ["correction"] and text.norm(end) in text.trade.words["after_no_correction"]:
        return None
    if kind == "correction" and " ".join(phrase) in text.trade.words["correction_headings"]:
        if text.number(end) is not None or text.claimed[i]:
            return None
        if i > start and prev not in ("the", "and", "so", "for") and text.tokens[i].gap == NO_BREAK:
            return None
        if prev == "for" and end < len(text.tokens) and text.tokens[end].gap == STOP:
            return None  # "one and a half hours for the repair." has ended there
        if phrase == ["repair"] and prev in text.trade.words["before_no_repair"]:
            return None
        if text.norm(end) in ("is", "was"):
            end += 1
    if kind == "finding":
        if (phrase in (["found"],) and prev in text.trade.words["before_not_found"]) or (
            text.negated(end, end + 1) and text.norm(end) in ("nothing", "no", "none")
        ):
            return None
        if text.sense(i) is not None or text.norm(end) in ("if", "whether"):
            return None  # "swapped them over to see if it followed"
    if kind == "cause" and phrase[0] in text.trade.words["traced"] and text.sense(i, ("question",)):
        return None
    if kind == "cause" and _told_as_cause(text, i):
        return None  # "cause: bearing failed through lack of oil" is one statement
    if kind == "cause" and any(text.trade.failures.at(text.norms, k)[0] > end for k in range(i, end)):
        return None  # "the disc's down to the rivets"
    about = end + (text.norm(end) in ("about", "around", "roughly", "nearly", "only", "just"))
    if kind == "cause" and phrase[-1] in ("to", "of") and text.number(about) is not None:
        return None  # "outlet down to 90 ppm", "tyre's down to about two mil"
    if kind == "cause" and phrase in (["due", "to"],) and text.norm(end) in ("be", "come", "go", "start"):
        return None
    if (
        kind == "cause"
        and phrase == ["cause"]
        and (
            prev in text.trade.words["before_no_cause"]
            or (i > start and text.tokens[i].gap == NO_BREAK and prev not in ("and", "so", "the", "root"))
        )
    ):
        return None
    answered = text.tokens[end - 1].asked and text.breath(i) == (i, end)  # "Cause? Bag chafed on a bracket."
    if kind == "cause" and not answered and text.sense(i, ("condition", "question")) is not None:
        return None
    if kind == "finding" and phrase[0] == "there's" and prev in text.trade.words["before_reported_speech"]:
        return None  # "reported that there's a knocking noise"
    if kind == "finding" and (text.cue("codes", end) is not None or written_as_code(text.norm(end))):
        return None  # "there's P0299 active"
    if phrase == ["reported"] and not (i == text.breath(i)[0] and text.tokens[i].text.endswith(":")):
        return None
    if kind == "complaint" and prev in text.trade.words["before_no_saying"]:
        return None  # "if they say yes"
    if (
        kind in ("complaint",)
        and text.norm(i) == "in"
        and text.norm(i - 1) not in text.trade.words["before_came_in"]
    ):
        return None
    if kind == "advisory" and phrase in (["starting", "to"], ["due", "for"]) and text.sense(i, ("question",)):
        return None
    if kind == "advisory" and (text.negated(max(start, i - 2), i) or _value_wanted(text, end)):
        return None  # "didn't need a new valve", "it wants a hundred and sixty"
    if is_supposed(phrase, text.norms[end : end + 1]):
        return None
    if kind == "loose_end":
        told = text.find(text.trade.action_forms, max(0, i - 14), i - 1) if prev == "it" else []
        if any(action == "lost" for _, _, (action, _) in told):
            return None  # "lost a washer, it fell behind the axle" is told already
        if text.sense(i, ("question", "condition")) is not None:
            return None
        if kind == "loose_end" and text.number(end) is not None and phrase[-1] == "be":
            return None  # "5.1 bar, must be 8.5"
        headed = text.tokens[end - 1].text.endswith(":") and i == text.breath(i)[0]  # "To do: …"
        if (
            not headed
            and " ".join(phrase) in text.trade.words["duties"]
            and (
                text.norm(i - 1) not in text.trade.words["before_duty"]
                or text.find(text.trade.cue["headings.advisory"], max(0, i - 5), i)
            )
        ):
            return None
        if " ".join(phrase) in text.trade.words["not_done_yet"] and not _done_verb(text, end):
            return None
        if phrase == ["waiting", "for"] and text.cue("clock", i):
            return None
        if _puts_on(text, i) or _of_no_thing(text, i, phrase) or _only_stays(text, i, phrase):
            return None
    if (
        kind == "hazard"
        and phrase in (["warning"], ["hazard"], ["safety"], ["caution"])
        and (
            i != text.breath(i)[0]
            or end >= len(text.tokens)
            or (text.tokens[end].gap == NO_BREAK and not text.tokens[i].text.endswith(":"))
        )
    ):
        return None
    if kind == "hazard" and i > start and (text.cue("headings", start) or (0, ""))[1] == "complaint":
        return None  # "complaint: gearbox oil on the floor"
    if kind == "hazard" and phrase[0] == "never" and prev in text.trade.words["who_tells"]:
        return None  # "we never get there"
    if kind == "hazard" and phrase in (["careful"],) and prev in ("been", "was"):
        return None
    if kind == "hazard" and phrase[0] == "under" and prev not in ("still", "is", "was", "it's"):
        return None  # "cuts out under load"
    while text.norm(end) in text.trade.words["after_heading"] and kind != "finding":
        if text.norm(end) in ("the",):
            break
        end += 1
    breath = text.breath(i)[0]
    if kind == "complaint" and (end >= len(text.tokens) or text.tokens[end].gap == STOP) and i - breath >= 2:
        last = i
        while last > breath and text.norm(last - 1) in text.trade.words["before_told_last"]:
            last -= 1
        return (kind, breath, breath, last) if last - breath >= 2 else None  # "no power, the driver says."
    stop = _end(text, i, end, kind)
    if kind == "complaint" and _nothing_wrong(text, end, stop):
        return None  # "driver says it's fine now"
    begin = i
    if (
        KEEPS_HEADING[kind]
        or kind == "finding"
        or (kind == "cause" and phrase[0] in text.trade.words["told_with_effect"])
    ):
        begin = start if start < i and i - start < 16 else i
        if kind in ("cause", "finding"):
            begin = start if kind == "cause" else i
        if kind == "cause" and phrase[0] == "failed":
            failed = name_before(text, i, breath)
            if failed is not None and failed.kind and failed.end == i:
                return kind, failed.start, failed.start, stop  # "bearing failed through lack of oil"
    if kind == "complaint" and text.tokens[i].gap == COMMA:
        since = max((k + 1 for k in range(breath, i) if text.claimed[k]), default=breath)
        symptom = bool(text.find(text.trade.cue["symptoms.words"], since, i))
        if since < i <= since + 12 and (symptom or _tells_of_it(text, since, i, end)):
            return kind, since, since, stop  # "wanders, driver says it needs two hands"
    if kind in ("hazard", "advisory", "loose_end", "complaint") and text.tokens[i].gap == NO_BREAK:
        free = 0 < i - breath <= 12 and not any(text.claimed[breath:i])
        if free and kind == "complaint" and text.find(text.trade.cue["symptoms.words"], breath, i):
            return kind, breath, breath, stop
        if free and kind != "complaint":
            begin = breath
    if kind == "loose_end" and begin == i and text.tokens[i].gap == NO_BREAK:
        left = name_before(text, i, breath)
        if left is not None and left.kind is not None and not left.pronoun:
            begin = left.start  # "… so the fridge stays unplugged"
    return kind, end, begin, stop


def _nothing_wrong(text: Text, start: int, end: int) -> bool:
    """Whether all that is said is that something is sound: "it's fine now"."""
    words = text.trade.words
    k = start
    while k < end and text.norm(k) in words["around_subject"] | words["its_state_follows"] | words["be"]:
        k += 1
    sound, meanings = text.trade.sound.at(text.norms, k)
    return bool(meanings) and set(text.norms[sound:end]) <= words["around_subject"] | {"again", "today"}


def _tells_of_it(text: Text, since: int, i: int, end: int) -> bool:
    """ "transmission shudders at lockup, customer states it is worse hot": of what was told right before."""
    if text.norm(end) not in text.trade.words["tells_more_of_it"]:
        return False
    work = any(text.steps_at(k)[1] or text.fittings_at(k)[1] for k in range(since, i))
    return (
        not work and any(text.component_at(k)[1] for k in range(since, i)) and not any(text.numeric[since:i])
    )


def _value_wanted(text: Text, end: int) -> bool:
    """A number is what is wanted, not work: "wants a hundred and sixty"."""
    number = text.number(end) or (text.number(end - 1) if text.norm(end - 1) == "a" else None)
    if number is None or number.end <= end:
        return False
    return (
        number.end >= len(text.tokens)
        or text.tokens[number.end].gap > NO_BREAK
        or text.norm(number.end) == "or"  # "I'd want fifteen or so"
        or text.unit_follows(number.end)
    )


def _of_no_thing(text: Text, i: int, phrase: list[str]) -> bool:
    """Whether "… isn't back on" is said of a lamp or code, or "off tomorrow" of nothing that could be off."""
    if phrase[-1] == "tomorrow":
        known = text.trade.components
        return not any(known.at(text.norms, k)[1] for k in range(text.breath(i)[0], i))
    if phrase[-2:-1] != ["back"]:
        return False
    name = name_before(text, i, text.breath(i)[0])
    return name is not None and (name.kind is None or name.kind in text.trade.kinds["no_place"])


def _only_stays(text: Text, i: int, phrase: list[str]) -> bool:
    """ "belt's still on": a part of the vehicle where it belongs, unlike test gear, clamps and lamps."""
    if "still" not in phrase[-2:] or phrase[-1] not in text.trade.words["stays_there"]:
        return False
    name = name_before(text, i, text.breath(i)[0])
    kinds = text.trade.kinds
    apart = kinds["no_place"] | kinds["fastening"] | kinds["plugged"]
    return name is not None and name.kind is not None and name.kind not in apart


def _puts_on(text: Text, i: int) -> bool:
    """ "dropped in a new filter": fitted; but "the nut dropped in the sump" is lost."""
    after, meanings = text.fittings_at(i)
    if not any(action == "fitted" for action, _, _ in meanings):
        return False
    put = name_at(text, after, text.sentence(i)[1])
    if put is None or put.kind is None:
        return False
    if put.condition == "new":
        return True
    start, end = text.breath(i)
    fell = name_before(text, i, start)
    if fell is not None and (fell.kind is not None or fell.pronoun):
        return False
    small = text.trade.kinds["missed"]
    said_after = (name_at(text, k, end) for k in range(put.end, min(end, put.end + 6)))
    return not any(name is not None and name.kind in small for name in said_after)


def _done_verb(text: Text, i: int) -> bool:
    for k in range(i, i + 3):
        if text.steps_at(k)[1] or text.fittings_at(k)[1]:
            return True
        if text.norm(k) in text.trade.words["done"]:
            return True
    return False


def _end(text: Text, heading: int, body: int, kind: str) -> int:
    """Where a statement ends: with its sentence; a stop right after the heading doesn't count."""
    if body >= len(text.tokens):
        return body
    if (
        text.tokens[body].gap == STOP
        and kind in ("advisory", "loose_end", "hazard")
        and body > heading
        and (not stands_alone(text, heading, body) or text.cue("headings", body) is not None)
    ):
        return body  # "one cover still off." is all of it, "advisory." is not
    _, end = text.sentence(body)
    while (
        kind == "complaint"
        and end < len(text.tokens)
        and text.tokens[end].gap == NO_BREAK
        and end - body < 20
        and text.norm(end) in text.trade.words["goes_on_telling"]
    ):
        end = text.sentence(end)[1]  # "… comes back whenever he hits a pothole"
    while (
        kind == "cause"
        and end < len(text.tokens)
        and text.tokens[end].gap == NO_BREAK
        and end - body <= _ONE_CAUSE
        and text.norm(end) in text.trade.words["failed_through"]
        and (text.cue("headings", end) or (0, ""))[1] == "cause"
    ):
        end = text.sentence(end)[1]  # "cause: bearing | failed through lack of oil"
    while (
        kind == "correction"
        and end < len(text.tokens)
        and end - body < 20
        and text.norm(end) in text.trade.words["goes_on_correcting"]
        and text.norm(end + 1) in text.trade.words["definite"]
        and text.cue("headings", end) is None
    ):
        end = text.sentence(end)[1]  # "I replaced the sensor. And the hose, and calibrated the height."
    if (
        kind in ("complaint", "cause", "correction")
        and end - body < 3
        and end < len(text.tokens)
        and text.cue("headings", end) is None
    ):
        nxt = text.sentence(end)
        if text.tokens[end].gap == NO_BREAK:
            end = nxt[1]
    return min(end, body + _LONGEST)


#: So many words at most stand between "cause" and "failed due to" of one statement.
_ONE_CAUSE = 9


def _told_as_cause(text: Text, i: int) -> bool:
    """Whether "failed due to" at `i` stands in a breath that opens with the word "cause", not far before."""
    start = text.breath(i)[0]
    if text.norm(i) not in text.trade.words["failed_through"]:
        return False
    first = text.cue("headings", start)
    return start < i and first is not None and first[1] == "cause" and first[0] <= i <= first[0] + _ONE_CAUSE


def stands_alone(text: Text, heading: int, body: int) -> bool:
    """Whether a heading is a sentence of one word: "advisory.", "careful."."""
    return (
        body == heading + 1
        and text.breath(heading)[0] == heading
        and body < len(text.tokens)
        and text.tokens[body].gap == STOP
    )
