"""What a fastener holds: candidates, their features, the choice.

Expected values: the report contract (a fastener says what it holds); how people leave it out: common practice, no
source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from said_kit import WORDS, act, mark, sentence_of

from voicereport.errors import PackError
from voicereport.statements import holding
from voicereport.statements.acts import Memory
from voicereport.statements.holding import Scene, alike, candidates, held, still_out
from voicereport.statements.names import names_in
from voicereport.statements.placing import Placed
from voicereport.statements.tokens import whole_of
from voicereport.statements.values import Act

SIX_OUT = act("six screws out", "remove", "screw", count=6, holds="rear cover")
TWO_OUT = act("two screws out", "remove", "screw", count=2, holds="fan bracket")
CLIPS_OUT = act("four clips out", "remove", "clip", count=4, holds="dispenser trim")


def scene(line: str, word: str, thing: str | None, memory: Memory, found: tuple[tuple[Act, Placed], ...] = ()) -> Scene:
    sentence = sentence_of(line)
    names = names_in(whole_of(sentence), WORDS)
    return Scene(mark=mark(line, word, thing), found=found, sentence=sentence, names=names, words=WORDS, memory=memory)


def features(part: str, told: list[holding.Candidate]) -> dict[str, float]:
    found = next(c for c in told if c.part == part)
    return dict(zip(holding.FEATURES, found.features, strict=True))


def test_screws_named_after_their_part_hold_it() -> None:
    line = "three hinge screws out"
    said = held(act(line, "remove", "screw", count=3), scene(line, "out", "hinge screws", Memory(holder="rear cover")))
    assert said.holds == "hinge"


def test_screws_beside_the_part_that_comes_off_hold_it() -> None:
    line = "six screws out and the rear cover is off"
    cover = (act(line, "remove", "rear cover", kind="part"), mark(line, "off", "rear cover"))
    said = held(act(line, "remove", "screw", count=6), scene(line, "out", "screws", Memory(), (cover,)))
    assert said.holds == "rear cover"


def test_as_many_as_are_out_go_back_where_they_came_from() -> None:
    line = "the same two screws in"
    memory = Memory(acts=[TWO_OUT, SIX_OUT], named=["rear cover"], holder="rear cover")
    told = candidates(act(line, "refit", "screw", count=2), scene(line, "in", "screws", memory))
    assert features("fan bracket", told)["open_as_many"] == features("fan bracket", told)["same_as_many"] == 1.0
    assert features("rear cover", told)["open_more"] == 1.0
    later = Memory(acts=[SIX_OUT, TWO_OUT])
    assert held(act(line, "refit", "screw", count=2), scene(line, "in", "screws", later)).holds == "fan bracket"


def test_a_number_alone_is_of_the_kind_that_is_out() -> None:
    line = "six in"
    memory = Memory(acts=[SIX_OUT, CLIPS_OUT, replace(CLIPS_OUT, action="refit")], named=["rear cover"])
    said = held(act(line, "refit", "clip", count=6), scene(line, "in", None, memory))
    assert (said.part, said.holds) == ("screw", "rear cover")


def test_other_things_than_fasteners_hold_nothing() -> None:
    line = "the rear cover is off"
    cover = act(line, "remove", "rear cover", kind="part")
    assert held(cover, scene(line, "off", "rear cover", Memory(acts=[SIX_OUT]))) == cover


def test_without_a_candidate_it_stays_open() -> None:
    line = "six screws out"
    assert held(act(line, "remove", "screw", count=6), scene(line, "out", "screws", Memory())).holds is None


def test_what_is_out_is_counted_by_what_it_holds() -> None:
    memory = Memory(acts=[SIX_OUT, TWO_OUT, replace(SIX_OUT, action="refit", count=4, holds="cover"), CLIPS_OUT])
    assert still_out(memory, "screw") == {"rear cover": 2, "fan bracket": 2}
    assert still_out(memory, "clip") == {"dispenser trim": 4}
    planned = replace(TWO_OUT, status="planned")
    assert still_out(Memory(acts=[planned]), "screw") == {}


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("cover", "rear cover", True),
        ("rear cover", "cover", True),
        ("front cover", "rear cover", False),
        ("", "x", False),
    ],
)
def test_names_are_alike_but_for_words_before_the_last(one: str, other: str, same: bool) -> None:
    assert alike(one, other) is same


def test_weights_of_another_program_are_refused(tmp_path: object, monkeypatch: pytest.MonkeyPatch) -> None:
    from pathlib import Path

    folder = Path(str(tmp_path)) / "reader"
    folder.mkdir()
    (folder / "holders.toml").write_text("[weights]\nsaid = 1.0\n", encoding="utf-8")
    monkeypatch.setattr(holding, "models_dir", lambda: folder.parent)
    holding.weights.cache_clear()
    try:
        with pytest.raises(PackError, match="differ in"):
            holding.weights()
    finally:
        monkeypatch.undo()
        holding.weights.cache_clear()


def test_the_wheel_carries_the_weights() -> None:
    """They are read at run time, so that an installed program needs them as much as the reader."""
    import tomllib
    from pathlib import Path

    project = tomllib.loads((Path(__file__).parent.parent / "pyproject.toml").read_text(encoding="utf-8"))
    carried = project["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]
    assert carried["models/reader/holders.toml"] == "voicereport/_data/models/reader/holders.toml"
