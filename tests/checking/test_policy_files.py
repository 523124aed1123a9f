"""A payer's own policy: what it includes, replaces and drops, and what is said of a bad one."""

from __future__ import annotations

import pytest
from complete_job import HEAD, POLICY, checked, complete, gaps, record

from jobnotes.checking import policy
from jobnotes.errors import JobnotesError
from jobnotes.record import ClaimGap

RULE = """
[[rule]]
id = "limit"
type = "within_distance"
value = "200000"
severity = "refused"
missing = "Beyond the warranty's distance"
why = "It ended there."
remedy = "Ask the payer for goodwill."
"""


def write(folder, text, name="own.toml"):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_an_own_policy_includes_the_shipped_one_replaces_and_drops(tmp_path):
    own = RULE.replace('"limit"', '"job-number"')
    path = write(tmp_path, HEAD + 'include = ["default"]\ndrop = ["photo-new-part"]\n' + own)
    rules = policy.load(path)
    shipped = [r.id for r in POLICY.rules]
    assert [r.id for r in rules.rules] == [r for r in shipped if r != "photo-new-part"]
    assert gaps(record(complete(), ("plate", "odometer", "fault", "old")), rules) == ["job-number"]


def test_an_own_policy_may_stand_alone_or_on_another_beside_it(tmp_path):
    write(tmp_path, HEAD + RULE, "base.toml")
    path = write(tmp_path, HEAD + 'include = ["base.toml"]\n')
    assert gaps(record(complete()), policy.load(path)) == ["limit"]


@pytest.mark.parametrize(
    ("value", "unit", "met"),
    [
        ("218400", "km", True),
        ("218399", "km", False),
        ("135708", "[mi_i]", True),
        ("135707", "[mi_i]", False),
    ],
)
def test_distance_is_compared_in_one_unit(tmp_path, value, unit, met):
    """218,400 km are 135,707.5 international miles (1 mi = 1,609.344 m exactly, NIST SP 811 appendix B.8)."""
    text = RULE.replace('"200000"', f'"{value}"\nunit = "{unit}"')
    found = gaps(record(complete()), policy.load(write(tmp_path, HEAD + text)))
    assert found == ([] if met else ["limit"])


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("format = ", 1, "not TOML"),
        ('format = "other"\nversion = 1\n', None, "not a claim policy"),
        (HEAD + "colour = 1\n", 3, "unknown key 'colour'"),
        (HEAD + 'include = ["nowhere.toml"]\n', 3, "isn't there"),
        (HEAD + "include = 4\n", 3, "list of names"),
        (HEAD + 'drop = ["nothing"]\n', 3, "unknown rule 'nothing'"),
        (HEAD + RULE.replace('id = "limit"\n', ""), 4, "no id"),
        (HEAD + RULE.replace('"within_distance"', '"magic"'), 5, "unknown type 'magic'"),
        (HEAD + RULE.replace('"refused"', '"bad"'), 5, "unknown severity 'bad'"),
        (HEAD + RULE.replace('why = "It ended there."\n', ""), 5, "why is missing"),
        (HEAD + RULE.replace('value = "200000"\n', ""), 5, "value is missing"),
        (HEAD + RULE.replace('"200000"', '"far"'), 5, "not a number"),
        (HEAD + RULE + 'unit = "furlong"\n', 5, "unknown 'furlong'"),
        (HEAD + RULE + "when = ['sunny']\n", 5, "unknown condition"),
        (HEAD + RULE + "size = 4\n", 5, "unknown key 'size'"),
        (HEAD + RULE + RULE, 5, "stands there twice"),
        (
            HEAD + RULE.replace('"within_distance"\nvalue = "200000"', '"needs_kind"\nkinds = ["mood"]'),
            5,
            "'mood'",
        ),
        *(
            (HEAD + RULE.replace('"within_distance"\nvalue = "200000"', row), 5, words)
            for row, words in [
                ('"needs_kind"\nkinds = "cause"', "list of words"),
                ('"within_warranty"', "none of months, distance, hours is given"),
                ('"within_warranty"\nmonths = "24"', "months is not a whole number"),
                ('"within_warranty"\nmonths = 2.5', "months is not a whole number"),
                ('"within_warranty"\nmonths = 0', "months is 0"),
                ('"within_warranty"\ndistance = "far"', "distance is not a number"),
                ('"within_warranty"\ndistance = "1"\nunit = "m"', "unknown 'm'"),
                ('"within_warranty"\nyears = 2', "unknown key 'years'"),
                ('"within_distance"\nvalue = "-1"', "value is -1"),
                ('"claimed_within"', "days is missing"),
                ('"claimed_within"\ndays = -3', "days is -3"),
                ('"claimed_within"\ndays = true', "days is not a whole number"),
                ('"not_repeated"', "none of days, distance is given"),
                ('"not_repeated"\ndays = 90\nunit = "mile"', "unknown 'mile'"),
                ('"job_has"', "any_of is missing"),
                ('"job_has"\nall_of = ["mood"]', "unknown 'mood'"),
                ('"priced"\nkinds = ["gift"]', "unknown 'gift'"),
                ('"labour_within_standard"\ntolerance_h = "some"', "not a number"),
                ('"labour_claimed_once"\nhours = 1', "unknown key 'hours'"),
                ('"dates_in_order"\nwhen = ["later"]', "unknown condition"),
                ('"codes_gone"\nstates = ["cleared"]', "words is missing"),
                ('"causal_part_has"\nneeds = ["colour"]', "unknown 'colour'"),
                ('"photo_of"\npart_actions = ["thrown"]', "unknown 'thrown'"),
            ]
        ),
    ],
)
def test_a_bad_policy_is_one_line_with_file_line_and_remedy(tmp_path, text, line, words):
    path = write(tmp_path, text)
    with pytest.raises(JobnotesError) as caught:
        policy.load(path)
    assert caught.value.subject == (f"{path}, line {line}" if line else str(path))
    assert words in caught.value.reason
    assert caught.value.remedy
    assert "\n" not in str(caught.value)


def test_policies_that_include_each_other_are_refused(tmp_path):
    write(tmp_path, HEAD + 'include = ["own.toml"]\n', "base.toml")
    with pytest.raises(JobnotesError, match="includes itself"):
        policy.load(write(tmp_path, HEAD + 'include = ["base.toml"]\n'))


def test_a_policy_that_is_not_there_or_not_text_is_refused(tmp_path):
    with pytest.raises(JobnotesError, match="no such claim policy"):
        policy.load(tmp_path / "none.toml")
    (tmp_path / "own.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(JobnotesError, match="UTF-8"):
        policy.load(tmp_path / "own.toml")
    with pytest.raises(JobnotesError, match="can't be read"):
        policy.load(tmp_path)


def test_a_number_that_may_be_thousands_or_not_is_refused(tmp_path):
    path = tmp_path / "payer.toml"
    path.write_text(
        'format = "jobnotes-claim-policy"\nversion = 1\n[[rule]]\nid = "w"\ntype = "within_warranty"\n'
        'distance = "250.000"\nseverity = "refused"\nmissing = "m"\nwhy = "w"\nremedy = "r"\n',
        "utf-8",
    )
    with pytest.raises(JobnotesError, match=r"line 4: .*may mean 250000"):
        policy.load(path)


def test_a_rule_says_until_when_its_gap_can_be_put_right_or_its_type_does(tmp_path):
    photo = RULE.replace("within_distance", "photo_of").replace('value = "200000"', 'words = ["plate"]')
    text = HEAD + RULE + photo.replace('"limit"', '"plate"') + photo.replace('"limit"', '"liner"')
    rules = policy.load(write(tmp_path, text + 'fixable = "open"\n'))
    assert [rule.fixable for rule in rules.rules] == ["desk", "here", "open"]
    found = checked(record(complete(), ()), rules).claim_gaps
    assert {gap.rule: gap.fixable for gap in found} == {"limit": "desk", "plate": "here", "liner": "open"}
    with pytest.raises(JobnotesError, match="unknown fixable 'soon'; write one of open, here, desk"):
        policy.load(write(tmp_path, text + 'fixable = "soon"\n'))


def test_gaps_are_told_while_there_is_time_then_the_worst_first():
    gap = [
        ClaimGap("a", "", "", "nice", "open"),
        ClaimGap("b", "", "", "refused", "desk"),
        ClaimGap("c", "", "", "queried", "here"),
        ClaimGap("d", "", "", "refused", "here"),
    ]
    assert [g.rule for g in policy.while_there_is_time(gap)] == ["a", "d", "c", "b"]


def test_what_the_shipped_policy_asks_to_be_photographed_needs_the_vehicle():
    for rule in POLICY.rules:
        assert (rule.fixable == "desk") <= (not rule.id.startswith("photo")), rule.id
    assert POLICY.rule("photo-fault").fixable == "open", "once it is repaired nobody can see it"
    assert POLICY.rule("dates-stated").fixable == "desk"
