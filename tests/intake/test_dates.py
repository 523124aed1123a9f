"""Dates in file names, and local times on days when the clocks change."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobnotes.intake import dates

BERLIN = ZoneInfo("Europe/Berlin")
ZONES = st.sampled_from(["Europe/Berlin", "America/St_Johns", "Australia/Lord_Howe", "Asia/Kolkata", "UTC"])

in_this_century = st.datetimes(datetime(2001, 1, 1), datetime(2079, 12, 31))
to_the_second = in_this_century.map(lambda at: at.replace(microsecond=0))


# the ways in which phones, recorders and people write a moment into a file name (common practice, no source)
WRITTEN = [
    "{:%Y%m%d_%H%M%S}.m4a",
    "REC-{:%Y%m%d-%H%M%S}.wav",
    "Recording_{:%Y%m%d%H%M%S}.amr",
    "{:%Y-%m-%d %H.%M.%S}.m4a",
    "{:%Y-%m-%d_%H-%M-%S}.ogg",
    "{:%Y_%m_%d_%H_%M_%S}.3gp",
    "{:%Y-%m-%dT%H:%M:%S}.mp3",
    "Note {:%Y-%m-%d} at {:%H.%M.%S} (2).m4a",
    "note-{:%Y-%m-%d} {:%I.%M.%S %p}.m4a",
    "note-{:%Y-%m-%d} at {:%I.%M.%S%p}.m4a",
    "Voice {:%y%m%d_%H%M%S}.m4a",
    "IMG_{:%Y%m%d_%H%M%S}_001.jpg",
    "AUD-{:%Y%m%d-%H%M%S}~2.opus",
    "bay 3 job 12345 {:%Y%m%d_%H%M%S}.flac",
]


@pytest.mark.parametrize("written", WRITTEN)
@given(at=to_the_second)
def test_a_moment_written_into_a_name_is_read_back(written: str, at: datetime) -> None:
    assert dates.in_name(written.format(at, at)) == dates.NameDate(at, has_time=True)


@given(at=in_this_century)
def test_thousandths_right_after_the_seconds_are_kept(at: datetime) -> None:
    name = f"IMG_{at:%Y%m%d_%H%M%S}{at.microsecond // 1000:03}.jpg"
    read = dates.in_name(name)
    assert read is not None
    assert read.at == at.replace(microsecond=at.microsecond // 1000 * 1000)


@given(at=to_the_second, counter=st.integers(0, 9999))
def test_a_counter_after_the_day_is_not_taken_for_a_time(at: datetime, counter: int) -> None:
    midnight = at.replace(hour=0, minute=0, second=0)
    for name in (
        f"PTT-{at:%Y%m%d}-XY{counter:04}.opus",
        f"REC_{at:%Y%m%d}_{counter:04}.wav",
        f"{at:%Y-%m-%d}.m4a",
    ):
        assert dates.in_name(name) == dates.NameDate(midnight, has_time=False)


def test_a_time_without_seconds_is_read_if_it_is_written_as_one() -> None:
    assert dates.in_name("2026-11-03 08.15.m4a") == dates.NameDate(
        datetime(2026, 11, 3, 8, 15), has_time=True
    )


def test_a_name_in_utc_says_so() -> None:
    """Reference: ISO 8601, basic format, Z for UTC."""
    assert dates.named_time("20261103T071502Z.wav", BERLIN) == datetime(2026, 11, 3, 7, 15, 2, tzinfo=UTC)


@pytest.mark.parametrize(
    "name",
    [
        "note.m4a",
        "note 12.m4a",
        "20261303_081502.m4a",
        "20260230_081502.m4a",
        "job 120261103_0815021.m4a",
        "part 4055-2718.m4a",
        "IMG_4055.jpg",
        "19700101_000000.m4a",
        "2026-11-3.m4a",
    ],
)
def test_what_is_no_date_is_not_read_as_one(name: str) -> None:
    assert dates.in_name(name) is None


@given(at=st.datetimes(datetime(2001, 1, 1), datetime(2079, 1, 1), timezones=st.just(UTC)), zone=ZONES)
def test_local_time_is_read_back_to_its_instant_when_the_instant_is_about_known(
    at: datetime, zone: str
) -> None:
    here = dates.fixed(at, ZoneInfo(zone))
    assert here == at
    for slip in (timedelta(minutes=-9), timedelta(0), timedelta(minutes=9)):
        assert dates.localised(here.replace(tzinfo=None), ZoneInfo(zone), near=at + slip) == at


def test_an_hour_that_comes_twice_is_the_first_unless_the_file_says_otherwise() -> None:
    """Reference: the IANA time zone database; Berlin goes from 03:00 CEST back to 02:00 CET on 2026-10-25."""
    twice = datetime(2026, 10, 25, 2, 30)
    assert dates.localised(twice, BERLIN).isoformat() == "2026-10-25T02:30:00+02:00"
    later = datetime(2026, 10, 25, 1, 31, tzinfo=UTC)
    assert dates.localised(twice, BERLIN, near=later).isoformat() == "2026-10-25T02:30:00+01:00"
    years_later = datetime(2029, 1, 1, tzinfo=UTC)
    assert dates.localised(twice, BERLIN, near=years_later).isoformat() == "2026-10-25T02:30:00+02:00"


def test_an_hour_that_is_skipped_is_given_as_the_clocks_showed_it() -> None:
    """Reference: the IANA time zone database; Berlin goes from 02:00 CET on to 03:00 CEST on 2026-03-29."""
    at = dates.localised(datetime(2026, 3, 29, 2, 30), BERLIN)
    assert at.isoformat() == "2026-03-29T03:30:00+02:00"


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("2026-11-03T07:15:02.000000Z", datetime(2026, 11, 3, 7, 15, 2, tzinfo=UTC)),
        ("2026-11-03 07:15:02", datetime(2026, 11, 3, 7, 15, 2, tzinfo=UTC)),
        ("2026-11-03T08:15:02+0100", datetime(2026, 11, 3, 7, 15, 2, tzinfo=UTC)),
        ("08:15:02", None),
        ("2026-11-03", None),
        ("2026", None),
        ("", None),
        ("2092-11-03T07:15:02Z", None),
    ],
)
def test_a_containers_date_is_utc_unless_it_has_an_offset(text: str, utc: datetime | None) -> None:
    assert dates.stated(text, BERLIN) == utc
