"""The letters by which a paper sheet names faults and options: printed there, typed in later."""

# Without n, which marks "does not apply".
LETTERS = "abcdefghijklmopqrstuvwxyz"


def letter_of(place: int) -> str:
    """The letter at a place counted from 0; after the 25th aa, ab and so on."""
    rounds, rest = divmod(place, len(LETTERS))
    return (LETTERS[rounds - 1] if rounds else "") + LETTERS[rest]


def place_of(letters: str, count: int) -> int | None:
    """The place that has these letters among `count` places, or None."""
    return next((place for place in range(count) if letter_of(place) == letters), None)
