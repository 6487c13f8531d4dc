"""The owner's note as text."""

import json

import pytest

from station.logbook.note import BadNoteError, OwnersNote, changed_text, note_from


def test_a_note_says_what_stands_in_it_and_nothing_else() -> None:
    assert note_from('{"rocket": "Little Comet", "remarks": "Windy.\\nLost a fin."}') == OwnersNote(
        rocket="Little Comet", remarks="Windy.\nLost a fin."
    )


def test_a_change_keeps_whatever_else_stands_in_the_file() -> None:
    text = changed_text('{"remarks": "Windy.", "weather": {"cloud": 3}}', {"day": "2031-05-04"})
    assert json.loads(text) == {"remarks": "Windy.", "weather": {"cloud": 3}, "day": "2031-05-04"}


def test_a_note_is_readable_as_it_stands_and_reads_back() -> None:
    text = changed_text("", {"remarks": 'Überall "Wind", 4 °C ☂', "rocket": " Kleiner Komet "})
    assert "Überall" in text
    assert note_from(text) == OwnersNote(rocket="Kleiner Komet", remarks='Überall "Wind", 4 °C ☂')


def test_what_the_owner_took_back_is_not_what_was_never_said() -> None:
    newer, older = OwnersNote(remarks=""), OwnersNote(rocket="Little Comet", remarks="Windy.")
    assert newer.or_else(older) == OwnersNote(rocket="Little Comet", remarks="")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"day": "4 May 2031"}, "'4 May 2031' is not a day such as 2031-05-04"),
        ({"day": "2031-02-30"}, "not a day"),
        ({"rocket": "x" * 61}, "rocket of 61 characters is too long: 60 fit"),
        ({"remarks": "x" * 2001}, "too long: 2000 fit"),
        ({"motor": "H\x1b[31m"}, "motor holds characters that cannot be shown"),
        ({"rocket": "two\nlines"}, "cannot be shown"),
        ({"remarks": 7}, "remarks is not a text"),
        ({"colour": "red"}, "a note has no colour: it has rocket, motor, day, remarks"),
    ],
)
def test_what_does_not_fit_is_refused_with_the_reason(changes: dict[str, object], said: str) -> None:
    with pytest.raises(BadNoteError, match=said):
        changed_text("", changes)


@pytest.mark.parametrize("text", ["", "remarks: windy", "[]", '{"remarks": 7}', '{"day": "soon"}', "[" * 100_000])
def test_a_file_that_is_no_note_is_refused(text: str) -> None:
    with pytest.raises(BadNoteError):
        note_from(text)
