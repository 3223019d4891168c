"""Marked lines as they are heard: marks move over where the meaning stays, and nowhere else.

Expected values: the grammar in models/reader/lines.md, and the rule that a line must still mean what its marks say.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.scripts import script
from voicereport.paths import models_dir

FOLDER = models_dir() / "reader"


RECIPE = script(FOLDER / "recipe.py")
HEARD = script(FOLDER / "heard.py")


def _lines(said: list[str], heard: list[str]) -> list[str]:
    told = [HEARD.Told(line=RECIPE.parse(raw), block="0" * 64) for raw in said]
    return [line for _, line in HEARD.lines_of(told, heard)]


@pytest.mark.parametrize(
    ("said", "heard", "line"),
    [
        (  # digits for words, one comma less
            "{n1|Four} {p1|screws} on the {h1|back wall}, {a remove done|came right out}.",
            "4 screws on the back wall came right out.",
            "{n1|4} {p1|screws} on the {h1|back wall} {a remove done|came right out}.",
        ),
        (  # a thing misheard, one word for one
            "{a remove done|Pulled} the {p|shroud} and set it on the bench.",
            "Pulled the shrowd and set it on the bench.",
            "{a remove done|Pulled} the {p1|shrowd} and set it on the bench.",
        ),
        (  # a short "is" that belongs to no mark
            "{p|Panel}'s {a refit done|back on}, and it sits flush.",
            "Panel's back on and it sits flush.",
            "{p1|Panel}'s {a refit done|back on} and it sits flush.",
        ),
        (
            "I've {a isolate done|pulled} the {p|cord}. || power+",
            "I've pulled the cord,",
            "I've {a isolate done|pulled} the {p1|cord}, || power+",
        ),
    ],
)
def test_marks_move_to_the_words_that_were_heard(said: str, heard: str, line: str) -> None:
    assert _lines([said], [heard]) == [line]


@pytest.mark.parametrize(
    ("said", "heard"),
    [
        ("{n|Four} {p|screws} are {a remove done|out} now.", "for screws are out now"),  # a number lost
        ("{n|Four} {p|screws} are {a remove done|out} now.", "14 screws are out now"),  # a number changed
        ("I didn't {a remove not_done|pull} the {p|fan} off.", "I did pull the fan off"),  # a denial lost
        ("{a remove done|Pulled} the {p|fan} off.", "Not pulled the fan off"),  # a denial put in
        ("I'll {a remove planned|pull} the {p|fan} in a bit.", "I pull the fan in a bit"),  # a plan
        ("{a remove done|Removed} the {p|rear cover}.", "Remove the rear cover"),  # an imperative
        ("{p|Cover}'s {a remove done|off} the back.", "Cover's on the back"),  # another act
        ("I've {a isolate done|pulled} the {p|cord}. || power+", "I've pulled the gourd."),  # a check rests on it
        ("{a remove done|Pulled} the {p|damper} out.", "Pulled the out"),  # a marked word lost
        ("{p|Plug} {a isolate unclear|out}? || power-", "Plug out."),  # the only sign of a question
    ],
)
def test_a_line_that_may_mean_something_else_is_left_out(said: str, heard: str) -> None:
    assert _lines([said], [heard]) == []


def test_a_line_with_a_check_that_is_torn_in_two_is_left_out() -> None:
    said = ["The {p|plug} is {a isolate done|out} and hung over the door. || power+"]
    assert _lines(said, ["The plug is out", "and hung over the door"]) == []


def test_two_lines_in_one_breath_bear_the_marks_of_both() -> None:
    said = ["{n|Two} {p|screws}, {a remove done|out}.", "{a disconnect done|Unplugged} the {p|fan}. || power-"]
    assert _lines(said, ["2 screws out. Unplugged the fan."]) == [
        "{n1|2} {p1|screws} {a remove done|out}. {a disconnect done|Unplugged} the {p2|fan}. || power-"
    ]


def test_lines_that_say_the_opposite_of_a_check_are_not_joined() -> None:
    said = ["{a isolate done|Pulled} {p|it}. || power+", "Did I {a isolate unclear|pull} {p|it}? || power-"]
    assert _lines(said, ["Pulled it, Did I pull it?"]) == []


def test_every_heard_line_belongs_to_a_block_that_people_wrote() -> None:
    """Its block decides whether it is trained on; a block whose words were changed since would be in neither place."""
    heard = RECIPE.blocks_of(FOLDER / "lines" / "heard.txt")
    written = {
        block[0].block
        for path in (FOLDER / "lines").glob("*.txt")
        if path.name != "heard.txt"
        for block in RECIPE.blocks_of(path)
    }
    assert len(heard) > 10
    assert {line.block for block in heard for line in block} <= written


def test_no_heard_line_of_a_development_block_is_trained_on() -> None:
    training, development = RECIPE.split(RECIPE.blocks(FOLDER / "lines"))
    assert not {line.block for line in training} & {line.block for line in development}


@pytest.mark.parametrize("head", ["@ abc", "@ " + "g" * 64, "It is out.\n@ " + "0" * 64])
def test_a_faulty_head_of_a_block_is_told(tmp_path: Path, head: str) -> None:
    (tmp_path / "heard.txt").write_text(f"{head}\nIt is out.\n", encoding="utf-8")
    with pytest.raises(ValueError, match=r"heard\.txt:\d: '@ ' and 64"):
        RECIPE.blocks(tmp_path)


def test_a_name_that_nobody_said_is_left_out() -> None:
    said = "{a remove done|Pulled} the {p|fan} and left it in the hallway."
    assert _lines([said], ["Pulled the fan and left it in the Holloway."]) == []
    assert len(_lines([said], ["Pulled the fan and left it in the holloway."])) == 1
