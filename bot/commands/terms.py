"""The trade's words that commands take, and options that many of them have."""

from bot.book import Option
from bot.wording import word

INSTRUMENTS = ("banjo", "guitar", "mandolin", "fiddle", "resonator-guitar", "ukulele", "upright-bass")
TUNINGS = ("open-g", "c", "double-c", "sawmill", "open-d", "standard", "drop-d")
STYLES = (
    "roll", "melodic", "single-string", "downstroke", "flatpick", "crosspick", "double-stop", "tremolo", "fingers",
    "plain",
)  # fmt: skip
ROLES = ("opener", "body", "set-up", "tag")
SINGER = "behind a singer"  # the sparse pattern that every instrument has
PATTERNS = (
    SINGER, "vamp", "pinch", "rolling", "bum-ditty", "boom-chuck", "bass runs", "chop", "holds", "long tones",
    "root and fifth", "strum",
)  # fmt: skip
FAVOURS = ("melody", "smooth", "fresh", "favourites")
BEST = ("smooth", "easy", "melody")
LEVELS = (1, 5)
TEMPOS = (30, 320)  # beats a minute, as the service plays
HIGHEST_CAPO = 11

# What the service tells as data and commands say beside what can be chosen.
UNITS = (word("half"), word("quarter"), word("dotted quarter"), word("eighth"))
OTHER_TUNINGS = (word("sawmill"), word("standard"))
STATES_OF_CHALLENGES = (word("planned"), word("open"), word("closed"), word("cancelled"))
STATES_OF_VARIATIONS = (word("held"), word("entered"), word("refused"), word("withdrawn"))
KINDS_OF_POSTS = (
    word("challenge"), word("reminder"), word("variation"), word("round-up"), word("lesson"), word("practice"),
    word("channel-trouble"), word("nothing-to-draw"),
)  # fmt: skip
STATES_OF_POSTS = (word("waiting"), word("claimed"), word("sent"), word("parked"), word("lapsed"))
TAKEN_DOWN_ELSEWHERE = word("taken-down-at-origin")  # a reason of a report

TUNE = Option("tune", "tune", word("Which tune."), "t", required=True)
CODE = Option(
    "code", "text", word("The break's code: eight characters below every break."), "c", required=True, most=20
)
PHRASE = Option(
    "phrase", "phrase", word("A phrase, counted as it is played, repeats too."), "p", least=1, most=512
)
LICK = Option("lick", "lick", word("A lick, by number or name."), "n", required=True)
LEVEL = Option("level", "whole", word("No lick harder than this, 1 to 5."), "l", least=1, most=5)
STYLE = Option("style", "choice", word("Licks of this style alone."), "y", choices=STYLES)
INSTRUMENT = Option(
    "instrument", "choice", word("Another instrument than the group's own."), "i", choices=INSTRUMENTS
)
TEMPO = Option(
    "tempo", "whole", word("Beats a minute, in the tune's own beats."), "b", least=TEMPOS[0], most=TEMPOS[1]
)
KEY = Option("key", "text", word("The same hands, sounding in another key: A, Bb."), "h", most=12)
CAPO = Option("capo", "whole", word("The same hands behind another capo."), "k", least=0, most=HIGHEST_CAPO)
START = Option(
    "start", "whole", word("The tempo that a work-up begins at."), "f", least=TEMPOS[0], most=TEMPOS[1]
)
ROUNDS = Option("rounds", "whole", word("How often it is played."), "r", least=1, most=64)
ROLE = Option("role", "choice", word("Licks of this role alone."), "o", choices=ROLES)
