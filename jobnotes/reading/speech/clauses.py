"""Where clauses and sentences begin.

A clause is the stretch within which words belong together. Its borders come from punctuation, pauses and line
ends where there are any, and from the words themselves where there are none, so that a run-on transcript
reads the same.
"""

from __future__ import annotations

from jobnotes.reading.speech.lookup import Lookup
from jobnotes.reading.tokens import NO_BREAK, STOP

_IDENTITY = (
    "identity.job_number",
    "identity.registration",
    "identity.vin",
    "identity.odometer",
    "identity.engine_hours",
    "identity.part_number",
    "identity.serial",
)


#: The cue tables that open something new.
_HARD = ("headings", "photo.cues", *_IDENTITY, "clock", "private.open", "private.close", "labour.strong")


def borders(text: Lookup) -> tuple[list[int], list[int]]:
    """(clauses, sentences): the indices at which clauses, and the longer sentences, begin, in order."""
    tokens, norms, trade = text.tokens, text.norms, text.trade
    clauses: list[int] = []
    sentences: list[int] = []
    had_action = False
    spelt = (trade.cue["codes.spn"], trade.cue["codes.fmi"], trade.unit_forms)
    starters = trade.cue["starters"]
    spelt_openers = trade.first_words("codes.spn", "codes.fmi") | trade.unit_forms.first_words
    openers = trade.cues_by_word(*_HARD)
    i = 0
    counted_to = 0  # where the number of an item ends
    covered = 0  # tokens of a cue that has opened a clause can't open another
    while i < len(tokens):
        if len(norms[i]) <= 3 and norms[i] in spelt_openers:  # "f m i", "p s i": their letters open nothing
            for phrases in spelt:
                end = phrases.at(norms, i)[0]
                if end > i + 1:
                    covered = max(covered, end)
        gap, norm, prev = tokens[i].gap, norms[i], norms[i - 1] if i else ""
        verb = norm in trade.verb_words and _starts_verb(text, i)
        clause = sentence = i == 0 or gap == STOP or i == counted_to
        if sentence and norm in text.trade.words["enumerators"]:
            counted_to = text.number_end(i + 1)  # "item eight starter removed"
        opened = i
        if i >= covered and norm in openers:
            for name in openers[norm]:
                found = text.cue(name, i)
                complained = (
                    bool(clauses) and found is not None and _complained_of(text, clauses[-1], found[1])
                )
                if found and not complained and (sentence or _opens(text, name, i, found[0])):
                    opened = max(opened, found[0])
            if opened > i:
                clause = sentence = True
                covered = max(covered, opened)
        if not clause and i >= covered:
            if (
                norm in starters.first_words
                and starters.at(norms, i)[1]
                and prev not in text.trade.words["holds_starter"]
                and norm not in ("well", "later", "first", "plus")
                and not (norm == "next" and prev in trade.determiners)  # "at the next service"
                and not (norm == "so" and norms[i + 1 : i + 2] in (["far"], ["that"], ["much"], ["it"]))
            ):
                clause = True
                sentence = norm in text.trade.words["sentence_starters"]
            elif norm in text.trade.words["speakers"] and prev not in text.trade.words["binders"]:
                clause = True
                sentence = norm not in ("it's", "that's", "there's") or gap > NO_BREAK
            elif norm in ("it", "she") and _reads_a_value(text, i):
                clause, sentence = True, gap > NO_BREAK
            elif norm in ("but", "which", "because") or (
                norm == "and"
                and (
                    _starts_verb(text, i + 1)
                    or (norms[i + 1 : i + 2] and norms[i + 1] in text.trade.words["speakers"])
                )
            ):
                clause = True
            elif had_action and verb and prev not in text.trade.words["holds_verb"]:
                clause = not (_passive_ahead(text, i) or _alternates(text, clauses[-1], i))
        if clause:
            clauses.append(i)
            had_action = False
        if sentence:
            sentences.append(i)
        if verb:
            had_action = True
        i += 1
    return clauses, sentences


def _reads_a_value(text: Lookup, i: int) -> bool:
    """ "… it is not the control unit, it has 24.7 volts": what was read of the thing just named."""
    if text.norm(i + 1) not in text.trade.words["has_value"]:
        return False
    if text.norms[i - 1] in text.trade.words["binders"] or text.number(i + 2) is None:
        return False
    named = any(text.component_at(k)[1] and text.component_at(k)[0] == i for k in range(max(0, i - 4), i))
    return named or text.tokens[i].gap > NO_BREAK


def _complained_of(text: Lookup, start: int, heading: str) -> bool:
    """ "complaint gearbox oil on the floor": what is a hazard elsewhere is what the clause complains of."""
    opened = text.cue("headings", start) if heading == "hazard" else None
    return opened is not None and opened[1] == "complaint"


def is_supposed(phrase: list[str], after: list[str]) -> bool:
    """ "it must have gone down": what is supposed, and nothing that a heading's words begin."""
    return phrase == ["must"] and after[:1] == ["have"]


def _opens(text: Lookup, name: str, i: int, end: int) -> bool:
    """Whether a cue at `i` really opens something new, rather than standing inside a clause."""
    norms, tokens = text.norms, text.tokens
    prev = norms[i - 1] if i else ""
    if prev in text.trade.words["holds_cue"] and tokens[i].gap == NO_BREAK:
        return False
    if (
        i
        and text.trade.cue["not_done"].at(norms, i - 1)[1]
        and tokens[i].gap == NO_BREAK
        and name in ("photo.cues", "clock")
    ):
        return False  # "don't stop the clock"
    if name in _IDENTITY:
        return _value_follows(text, end) and not _numbers_a_thing(text, i, end)
    if name == "labour.strong":
        if norms[i] in ("took", "spent", "taken") and tokens[i].gap == NO_BREAK:
            return False  # "diagnosis took 45 minutes"
        return text.number(end) is not None or norms[i] in ("labour", "labor")
    if name == "headings":
        phrase = norms[i:end]
        if is_supposed(phrase, norms[end : end + 1]):
            return False
        if " ".join(phrase) in text.trade.words["correction_headings_inside"] and tokens[i].gap == NO_BREAK:
            return norms[end : end + 1] in (["is"], ["was"]) or _starts_verb(text, end)
        if phrase in (["found"], ["noticed"], ["there", "is"], ["there's"]):
            return prev not in text.trade.words["holds_found"]
        if " ".join(phrase) in text.trade.words["headings_inside"]:
            return False
        if phrase == ["warning"] and tokens[i].gap != STOP:
            return False
        return phrase[0] not in text.trade.words["headings_inside_by_word"]
    return True


#: Of so many alike at most one is told by its number.
_MOST = 24


def _numbers_a_thing(text: Lookup, i: int, end: int) -> bool:
    """ "number two injector", "injector number two": which of several it is."""
    number = text.number(end) if text.norms[i:end] == ["number"] else None
    beside = i > 0 and text.tokens[i].gap == NO_BREAK and text.norms[i - 1] in text.trade.words["numbered"]
    if number is not None and beside and number.value <= _MOST:
        return True
    return number is not None and bool(text.trade.components.at(text.norms, number.end)[1])


def _value_follows(text: Lookup, i: int) -> bool:
    """A number or spelled string within a few words from `i`."""
    for j in range(i, min(i + 4, len(text.norms))):
        if text.trade.cue["identity.is_words"].at(text.norms, j)[1]:
            continue
        return text.number(j) is not None or text.spelled(j) is not None
    return False


def _starts_verb(text: Lookup, i: int) -> bool:
    if not text.may_be_verb(i):
        return False  # most often
    if text.norm(i) == "set" and (text.norm(i + 1) == "of" or text.norm(i - 1) in ("a", "new", "the")):
        return False  # "fitted a set of pads"
    if text.counted_kind(i):
        return False
    if text.reports(i):
        return True
    split = text.trade.splits.get(text.norm(i), ()) or text.trade.part_splits.get(text.norm(i), ())
    if split and (
        text.trade.components.at(text.norms, i)[1] or text.norm(i - 1) in text.trade.words["before_noun"]
    ):
        return False  # "ground point", "the set screw"
    return any(s.tense in ("past", "doing") for s in split) and text.norm(i) not in ("had", "have", "got")


def _passive_ahead(text: Lookup, i: int) -> bool:
    """The verb at `i` closes what stands before it ("… hose removed"): nothing that it could take follows."""
    end = max(text.steps_at(i)[0], text.fittings_at(i)[0], i + 1)
    if end >= len(text.norms) or text.tokens[end].gap > NO_BREAK:
        return True
    if text.norms[i] in text.trade.words["intransitive"]:
        return True  # "belt came off fan came off"
    return text.norms[end] in text.trade.stop or text.norms[end - 1] == "to" or text.number(end) is not None


#: So many words name a thing at most, where things and their verbs follow each other.
_LONGEST_NAME = 5


def _alternates(text: Lookup, start: int, i: int) -> bool:
    """ "plate removed jaw replaced both mounts replaced": things before their verbs, one after another, since
    the clause at `start` opened with a thing."""
    if not _ends_a_thing(text, start, i) or text.norms[start] in text.trade.words["speakers"]:
        return False
    first = next((k for k in range(start, i) if _starts_verb(text, k)), start)
    if first == start or not _ends_a_thing(text, start, first):
        return False
    end = max(text.steps_at(i)[0], text.fittings_at(i)[0], i + 1)
    for k in range(end + 1, min(end + _LONGEST_NAME, len(text.norms))):
        if text.tokens[k].gap > NO_BREAK:
            return False
        if text.reports(k):
            return _ends_a_thing(text, end, k)
    return False


def _ends_a_thing(text: Lookup, start: int, end: int) -> bool:
    """Whether a component ends right before `end`, and nothing but names stands from `start`."""
    held = {"and", "both", "all"} | text.trade.determiners
    if any(text.norms[k] in text.trade.stop - held for k in range(start, end)):
        return False
    return any(
        text.component_at(k)[1] and text.component_at(k)[0] == end for k in range(max(start, end - 4), end)
    )
