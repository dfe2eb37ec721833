"""What is practised: a lick, a break, or the loop of one of its phrases."""

from dataclasses import dataclass

from service.errors import DomainError, NotFound
from service.judge.level import USUAL_BPM
from service.store import breaks as break_rows
from service.store import tunes as tune_rows
from service.store.groups import GroupRow
from service.usecases.breaks import typed_code
from service.usecases.house import House
from service.usecases.judging import own_beat
from service.usecases.licks import KeptLick, find_lick
from service.usecases.records import kept_form, kept_tune


@dataclass(frozen=True, slots=True)
class Piece:
    """Either ``lick`` or ``code`` is given; ``phrase`` counts from 1 and belongs to a break."""

    lick: int | None = None
    code: str | None = None
    phrase: int | None = None

    @property
    def told(self) -> str:
        """As it is kept: ``lick 42``, ``break 7P5MNCRY``, ``break 7P5MNCRY 3``."""
        if self.lick is not None:
            return f"lick {self.lick}"
        return f"break {self.code}" if self.phrase is None else f"break {self.code} {self.phrase}"

    @property
    def parts(self) -> dict[str, int | str | None]:
        """The same in parts, as posts tell it."""
        return {"lick": self.lick, "break": self.code, "phrase": self.phrase}


def read_piece(told: str) -> Piece:
    kind, name, *phrase = told.split()
    if kind == "lick":
        return Piece(lick=int(name))
    return Piece(code=name, phrase=int(phrase[0]) if phrase else None)


def wished_piece(lick: int | None, code: str | None, phrase: int | None) -> Piece:
    """Raises DomainError ``what-piece`` for neither, both, or a phrase without a break."""
    if (lick is None) == (code is None) or (code is None and phrase is not None):
        raise DomainError("what-piece")
    return Piece(lick, None if code is None else typed_code(code), phrase)


@dataclass(frozen=True, slots=True)
class Practised:
    """A piece that is there; ``goal`` is the tempo that practice leads to, in beats of ``unit`` a minute."""

    piece: Piece
    unit: str
    goal: int


def find_piece(house: House, group: GroupRow, wished: Piece) -> Practised:
    """Raises NotFound, TakenDown."""
    if wished.lick is not None:
        return _lick(find_lick(house, group.id, wished.lick))
    points = house.database.points
    row = break_rows.break_by_code(points, group.id, wished.code or "")
    tune_row = None if row is None else tune_rows.tune_revision(points, row.tune_id, row.tune_revision)
    if row is None or tune_row is None:
        raise NotFound("not-found", what="break")
    of_tune = (tune_row.id, tune_row.revision, tune_row.slug, tune_row.body)
    form = kept_form(*of_tune)
    if wished.phrase is not None and wished.phrase > len(form):
        raise NotFound("no-such-phrase", phrase=wished.phrase, phrases=len(form))
    tempo = kept_tune(*of_tune).tempo
    return Practised(wished, tempo.unit, tempo.start)


def _lick(kept: KeptLick) -> Practised:
    """Up to the usual tempo of its meter, or what is comfortable where that is less."""
    lick = kept.lick
    usual, top = USUAL_BPM[lick.meter.name], kept.facts.top_bpm(lick.meter)
    return Practised(
        Piece(lick=kept.number), own_beat(lick).unit, usual if top is None else max(1, min(usual, top))
    )
