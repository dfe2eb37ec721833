"""Which notes carry the tune: what is printed bold and sounds on top."""

from service.usecases.breaks import draw_break
from service.usecases.identify import Caller
from service.usecases.scores import break_score
from service.usecases.wishes import Wish
from tests.support import RunningService


def test_a_ringing_drone_carries_no_tune_and_the_plain_break_carries_most_of_it(demo: RunningService) -> None:
    async def draw() -> object:
        caller = Caller(1, "operator", None, None)
        return await draw_break(demo.house, caller, "ferry-lane", "heron-ferry", Wish(styles=("roll",)), 7)

    made = demo.call(draw)
    passage = made.passage()  # type: ignore[attr-defined]
    score = break_score(made, passage).score  # type: ignore[arg-type]
    struck: dict[int, set[tuple[int, int]]] = {}
    for note in passage.notes:
        struck.setdefault(note.onset, set()).add((note.string, note.fret))
    assert len(score.melody) > 20
    assert [onset for onset in score.melody if struck.get(onset) == {(5, 0)}] == []
