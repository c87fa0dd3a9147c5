"""What a plan says whatever the harp, against what differs from harp to harp."""

import re

from analyzer import plan_words


def test_no_fixed_sentence_names_a_note_for_which_one_it_is_depends_on_the_tuning() -> None:
    # the string C4 of a harp tuned in seven flats is a semitone below middle C, and in an early pass lower still
    said = " ".join(plan_words.NO_REFERENCE_TEXTS)
    assert not re.search(r"\b[A-G][#♯b♭]?\d\b|middle C", said)
    assert "tones of this pass" in said
