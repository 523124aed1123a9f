"""What the web application keeps to spare making it again."""

from __future__ import annotations

from jobnotes.serve.kept import Kept


def test_what_is_kept_is_made_once() -> None:
    made: list[str] = []
    kept: Kept[str, str] = Kept(2)

    def make() -> str:
        made.append("once")
        return "value"

    assert (kept.once("a", make), kept.once("a", make)) == ("value", "value")
    assert made == ["once"]


def test_what_was_asked_for_longest_ago_goes_first() -> None:
    kept: Kept[str, int] = Kept(2)
    kept.put("a", 1)
    kept.put("b", 2)
    assert kept.get("a") == 1
    kept.put("c", 3)
    assert (kept.get("a"), kept.get("b"), kept.get("c")) == (1, None, 3)


def test_the_bound_is_of_sizes_and_the_latest_stays_however_large() -> None:
    kept: Kept[str, str] = Kept(5, len)
    kept.put("a", "abc")
    kept.put("b", "ab")
    assert (kept.get("a"), kept.get("b")) == ("abc", "ab")
    kept.put("c", "abcdefgh")
    assert (kept.get("a"), kept.get("b"), kept.get("c")) == (None, None, "abcdefgh")
