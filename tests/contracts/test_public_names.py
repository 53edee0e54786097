"""The public names are few, sorted, and there."""

import tableside


def test_public_names_are_sorted_and_at_most_40() -> None:
    assert tableside.__all__ == sorted(tableside.__all__)
    assert len(tableside.__all__) <= 40


def test_every_public_name_can_be_had_and_is_documented() -> None:
    for name in tableside.__all__:
        assert getattr(tableside, name).__doc__, name
