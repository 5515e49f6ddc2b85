"""One test for many cases still fails for each of them."""

from __future__ import annotations

import pytest

from tests.each import each, named


def test_all_that_fail_are_named_with_their_reasons():
    @each({"none": 0, "one": 1, "quiet": -1, "pair": (2, 3)})
    def test(number, other=0):
        """Words."""
        if number < 0:
            with pytest.raises(ValueError):
                return
        assert number + other == 0, f"sum {number + other}"

    assert (test.__name__, test.__doc__) == ("test", "Words.")
    with pytest.raises(AssertionError) as caught:
        test()
    head, *lines = [line for line in str(caught.value).splitlines() if line.startswith(("3", "  "))]
    assert head == "3 of 4 fail:"
    assert [line.split(":")[0].strip() for line in lines][:1] == ["one"]
    for words in ("one: sum 1", "quiet: DID NOT RAISE", "pair: sum 5"):
        assert words in str(caught.value)


def test_nothing_is_no_test():
    with pytest.raises(AssertionError, match="nothing is checked"):
        each({})(print)()
    assert named(["b", 1]) == {"b": "b", "1": 1}
