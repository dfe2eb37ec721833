"""What may be asked of files: how they are drawn and how they sound. The same names everywhere."""

from dataclasses import dataclass
from typing import Annotated, Literal

from litestar.params import QueryParameter

from service.music.setting import MAX_CAPO
from service.music.timeline import FASTEST, MOST_COUNT_IN, MOST_ROUNDS, SLOWEST, work_up_tempos
from service.usecases.playing import Wanted

USUAL_ROUNDS = {"break": 1, "lick": 4, "loop": 8}  # ours: a break once, what is learnt round and round
WORK_UP_STEP = 4  # beats from tempo to tempo: common practice, no source
WORK_UP_ROUNDS = {"break": 1}  # at each tempo; three where a round is short: common practice, no source
SHORT_ROUNDS = 3
WORK_UP_FROM = 0.6  # of the tempo it leads to; ours
MOST_PHRASES = 512  # as many as a tune may have
MOST_PAGES = 9999  # more than anything has
_FROM_NOUGHT = {"minimum": 0}  # the framework leaves it out of the description where null may stand, too

Tempo = Annotated[
    int | None,
    QueryParameter(
        name="tempo", ge=SLOWEST, le=FASTEST, description="Beats a minute, in the tune's or the lick's beat."
    ),
]
Capo = Annotated[
    int | None,
    QueryParameter(
        name="capo",
        ge=0,
        le=MAX_CAPO,
        description="The same hands behind another capo, in another key.",
        schema_extra=_FROM_NOUGHT,
    ),
]
KeyShown = Annotated[
    str | None,
    QueryParameter(
        name="key",
        min_length=1,
        max_length=12,
        description="The same hands, sounding in this key: A, Bb, Em.",
    ),
]
LayoutShown = Annotated[
    Literal["phone", "wide"], QueryParameter(name="layout", description="Of pictures: for a phone, or wide.")
]
ThemeShown = Annotated[
    Literal["light", "dark"], QueryParameter(name="theme", description="Of pictures: light or dark.")
]
PageShown = Annotated[
    int,
    QueryParameter(
        name="page", ge=1, le=MOST_PAGES, description="Of pictures that have several pages; of split sound."
    ),
]
Large = Annotated[bool, QueryParameter(name="large", description="Large print.")]
PaperShown = Annotated[
    Literal["a4", "letter"], QueryParameter(name="paper", description="Of sheets: the size of paper.")
]
Hands = Annotated[
    Literal["right", "both"],
    QueryParameter(name="hands", description="right: picking fingers; both: the left hand's too."),
]
Notation = Annotated[bool, QueryParameter(name="notation", description="A standard staff above the tab.")]
ShapesShown = Annotated[bool, QueryParameter(name="shapes", description="Shapes of the chords, above it.")]
Hide = Annotated[
    int,
    QueryParameter(
        name="hide",
        ge=0,
        le=MOST_PHRASES,
        description="Of a break: the phrase, repeats written out, that is left out to be guessed or played by heart; 0: none.",
    ),
]
Folded = Annotated[
    bool | None,
    QueryParameter(
        name="folded",
        description="Parts played twice the same written once, with repeats and endings; so on paper unless false.",
    ),
]
Mute = Annotated[
    list[str] | None,
    QueryParameter(
        name="mute", max_items=10, description="Who is silent: lead, band, or an instrument of the band."
    ),
]
Rounds = Annotated[
    int | None, QueryParameter(name="rounds", ge=1, le=MOST_ROUNDS, description="How often it is played.")
]
Click = Annotated[bool, QueryParameter(name="click", description="A click all the way through.")]
CountIn = Annotated[
    int | None,
    QueryParameter(
        name="count_in",
        ge=0,
        le=MOST_COUNT_IN,
        description="Measures clicked before it begins.",
        schema_extra=_FROM_NOUGHT,
    ),
]
Swing = Annotated[
    int,
    QueryParameter(name="swing", ge=0, le=100, description="Per cent: 100 makes two eighths last as 2 to 1."),
]
Stereo = Annotated[bool, QueryParameter(name="stereo", description="Players apart, left to right.")]
Frame = Annotated[bool, QueryParameter(name="frame", description="With a kick-off and an ending.")]
From = Annotated[
    int | None,
    QueryParameter(name="from", ge=SLOWEST, le=FASTEST, description="Of a work-up: the tempo it begins at."),
]
Step = Annotated[
    int, QueryParameter(name="step", ge=1, le=100, description="Of a work-up: beats from tempo to tempo.")
]
Each = Annotated[
    int | None,
    QueryParameter(
        name="each",
        ge=1,
        le=MOST_ROUNDS,
        description="Of a work-up: rounds at each tempo; three, one of a whole break.",
    ),
]


@dataclass(frozen=True, slots=True)
class Drawing:
    """How it is drawn; everything that changes a picture is in ``told``."""

    tempo: int | None
    capo: int | None
    key: str | None
    layout: str
    theme: str
    page: int
    large: bool
    paper: str
    hands: str
    notation: bool
    shapes: bool
    folded: bool | None
    hide: int

    @property
    def told(self) -> tuple[object, ...]:
        return (
            self.tempo, self.capo, self.key, self.layout, self.theme, self.large, self.paper, self.hands, self.notation,
            self.shapes, self.folded, self.hide,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Sounding:
    """How it sounds, beside tempo and capo."""

    mute: frozenset[str]
    rounds: int | None
    click: bool
    count_in: int | None
    swing: int
    stereo: bool
    frame: bool
    start: int | None
    step: int
    each: int | None

    @property
    def told(self) -> tuple[object, ...]:
        return (
            sorted(self.mute), self.rounds, self.click, self.count_in, self.swing, self.stereo, self.frame, self.start,
            self.step, self.each,
        )  # fmt: skip

    def wanted(self, bpm: int, kind: str, *, work_up: bool) -> Wanted:
        """Rounds for a subject of a kind at a tempo. A work-up rises from ``from`` to that tempo. Raises DomainError."""
        if work_up:
            start = self.start or max(SLOWEST, min(bpm, round(bpm * WORK_UP_FROM)))
            each = self.each or WORK_UP_ROUNDS.get(kind, SHORT_ROUNDS)
            rounds = work_up_tempos(start, bpm, self.step, each)
        else:
            rounds = (bpm,) * (self.rounds or USUAL_ROUNDS.get(kind, 1))
        return Wanted(
            rounds,
            self.mute,
            self.click,
            self.count_in,
            self.swing / 100,
            self.stereo,
            self.frame and not work_up,
        )


def drawing_of(
    tempo: Tempo = None,
    capo: Capo = None,
    key: KeyShown = None,
    layout: LayoutShown = "phone",
    theme: ThemeShown = "light",
    page: PageShown = 1,
    large: Large = False,
    paper: PaperShown = "a4",
    hands: Hands = "right",
    notation: Notation = False,
    shapes: ShapesShown = False,
    folded: Folded = None,
    hide: Hide = 0,
) -> Drawing:
    return Drawing(tempo, capo, key, layout, theme, page, large, paper, hands, notation, shapes, folded, hide)


def sounding_of(
    mute: Mute = None,
    rounds: Rounds = None,
    click: Click = False,
    count_in: CountIn = None,
    swing: Swing = 0,
    stereo: Stereo = False,
    frame: Frame = False,
    start: From = None,
    step: Step = WORK_UP_STEP,
    each: Each = None,
) -> Sounding:
    names = frozenset(name.strip().lower() for sent in mute or () for name in sent.split(",") if name.strip())
    return Sounding(names, rounds, click, count_in, swing, stereo, frame, start, step, each)
