"""Text tab as people paste it: each text stands beside the notes that a player reads in it.

All music here is invented. Expectations were worked out by hand, column by column, as
(onset, string, fret[, technique]): 480 ticks a quarter, onset 0 at the first full bar line.
"""

import pytest

from service.errors import Fault, ReadingError
from service.music.harmony import chord_named
from service.music.instruments import instrument_named
from service.notation.readings import Reading
from service.notation.tab_reader import read_tab
from service.wording import said

Notes = tuple[tuple[int, int, int] | tuple[int, int, int, str], ...]


def read(text: str, instrument: str = "banjo", **stated: object) -> Reading:
    return read_tab(text, instrument_named(instrument), **stated)  # type: ignore[arg-type]


def notes(reading: Reading) -> Notes:
    return tuple(
        (n.onset, n.string, n.fret, n.technique) if n.technique else (n.onset, n.string, n.fret)
        for n in reading.passage.notes
    )


def codes(reading: Reading) -> list[str]:
    return [warning.code for warning in reading.warnings]


def assumptions(reading: Reading) -> list[str]:
    """What the one ``assumed`` warning names."""
    parts = [w.params["parts"] for w in reading.warnings if w.code == "assumed"]
    return [part["what"] for part in parts[0]] if parts else []  # type: ignore[index, attr-defined]


def faults(text: str, instrument: str = "banjo", **stated: object) -> tuple[Fault, ...]:
    with pytest.raises(ReadingError) as caught:
        read(text, instrument, **stated)
    return caught.value.at


def places(found: tuple[Fault, ...]) -> list[tuple[str, int | None, int | None]]:
    return [(fault.code, fault.line, fault.column) for fault in found]


# --- one roll in many clothes: C shape, strings 3 2 5 1 4 2 5 1, eighths ------------------------------

ROLL: Notes = (
    (0, 3, 0),
    (240, 2, 1),
    (480, 5, 0),
    (720, 1, 2),
    (960, 4, 2),
    (1200, 2, 1),
    (1440, 5, 0),
    (1680, 1, 2),
)

CLOTHES = {
    "letters before the rows": """
D|-------2-------2|
B|---1-------1----|
G|-0--------------|
D|---------2------|
g|-----0-------0--|
""",
    "letters all small": """
d|-------2-------2|
b|---1-------1----|
g|-0--------------|
d|---------2------|
g|-----0-------0--|
""",
    "letters all large": """
D|-------2-------2|
B|---1-------1----|
G|-0--------------|
D|---------2------|
G|-----0-------0--|
""",
    "numbers before the rows": """
1|-------2-------2|
2|---1-------1----|
3|-0--------------|
4|---------2------|
5|-----0-------0--|
""",
    "numbers and colons": """
1:-------2-------2|
2:---1-------1----|
3:-0--------------|
4:---------2------|
5:-----0-------0--|
""",
    "ordinals": """
1st|-------2-------2|
2nd|---1-------1----|
3rd|-0--------------|
4th|---------2------|
5th|-----0-------0--|
""",
    "letters in square brackets": """
[D]|-------2-------2|
[B]|---1-------1----|
[G]|-0--------------|
[D]|---------2------|
[g]|-----0-------0--|
""",
    "letters and no opening bar": """
D-------2-------2|
B---1-------1----|
G-0--------------|
D---------2------|
g-----0-------0--|
""",
    "letters, a space, no opening bar": """
D -------2-------2|
B ---1-------1----|
G -0--------------|
D ---------2------|
g -----0-------0--|
""",
    "nothing before the rows": """
|-------2-------2|
|---1-------1----|
|-0--------------|
|---------2------|
|-----0-------0--|
""",
    "no letters and no bars": """
-------2-------2
---1-------1----
-0--------------
---------2------
-----0-------0--
""",
    "a bar only at the end": """
-------2-------2|
---1-------1----|
-0--------------|
---------2------|
-----0-------0--|
""",
    "no closing bar": """
D|-------2-------2
B|---1-------1----
G|-0--------------
D|---------2------
g|-----0-------0--
""",
    "double bars at both ends": """
||-------2-------2||
||---1-------1----||
||-0--------------||
||---------2------||
||-----0-------0--||
""",
    "a square bracket as the last bar": """
|-------2-------2|]
|---1-------1----|]
|-0--------------|]
|---------2------|]
|-----0-------0--|]
""",
    "indented with tab characters": "\t|-------2-------2|\n"
    "\t|---1-------1----|\n"
    "\t|-0--------------|\n"
    "\t|---------2------|\n"
    "\t|-----0-------0--|\n",
    "a tab character after the letter": "D\t|-------2-------2|\n"
    "B\t|---1-------1----|\n"
    "G\t|-0--------------|\n"
    "D\t|---------2------|\n"
    "g\t|-----0-------0--|\n",
    "indented with no-break spaces": "\u00a0\u00a0D|-------2-------2|\n"
    "\u00a0\u00a0B|---1-------1----|\n"
    "\u00a0\u00a0G|-0--------------|\n"
    "\u00a0\u00a0D|---------2------|\n"
    "\u00a0\u00a0g|-----0-------0--|\n",
    "ragged ends": "D|-------2-------2|   \n"
    "B|---1-------1----|\n"
    "G|-0--------------|\u00a0\u00a0\u00a0\u00a0\n"
    "D|---------2------|\t\n"
    "g|-----0-------0--| \n",
    "Windows line ends": "|-------2-------2|\r\n"
    "|---1-------1----|\r\n"
    "|-0--------------|\r\n"
    "|---------2------|\r\n"
    "|-----0-------0--|\r\n",
    "carriage returns alone": "|-------2-------2|\r"
    "|---1-------1----|\r"
    "|-0--------------|\r"
    "|---------2------|\r"
    "|-----0-------0--|",
    "line separators": "|-------2-------2|\u2028"
    "|---1-------1----|\u2028"
    "|-0--------------|\u2028"
    "|---------2------|\u2028"
    "|-----0-------0--|",
    "box-drawing bars and dashes": """
D│───────2───────2│
B│───1───────1────│
G│─0──────────────│
D│─────────2──────│
g│─────0───────0──│
""",
    "box-drawing corners": """
┌───────2───────2┐
├───1───────1────┤
├─0──────────────┤
├─────────2──────┤
└─────0───────0──┘
""",
    "heavy and double bars": """
┃-------2-------2║
┃---1-------1----║
┃-0--------------║
┃---------2------║
┃-----0-------0--║
""",
    "broken bars": """
¦-------2-------2¦
¦---1-------1----¦
¦-0--------------¦
¦---------2------¦
¦-----0-------0--¦
""",
    "minus signs": "|-------2\u2212\u2212\u2212\u2212\u2212\u2212\u22122|\n"
    "|\u2212\u2212\u22121\u2212\u2212\u2212\u2212\u2212\u2212\u22121\u2212\u2212\u2212\u2212|\n"
    "|-0--------------|\n"
    "|---------2------|\n"
    "|-----0-------0--|\n",
    "hyphens that do not break": "|-------2-------2|\n"
    "|\u2011\u2011\u20111\u2011\u2011\u2011\u2011\u2011\u2011\u20111\u2011\u2011\u2011\u2011|\n"
    "|\u20100\u2010\u2010\u2010\u2010\u2010\u2010\u2010\u2010\u2010\u2010\u2010\u2010\u2010\u2010|\n"
    "|---------2------|\n"
    "|-----0-------0--|\n",
    "one en dash for each hyphen": """
|–––––––2–––––––2|
|–––1–––––––1––––|
|–0––––––––––––––|
|–––––––––2––––––|
|–––––0–––––––0––|
""",
    "an em dash for every two hyphens": """
D|———-2———-2|
B|—-1———-1——|
G|-0———————|
D|————-2———|
g|——-0———-0—|
""",
    "an em dash for three hyphens, an en dash for two": """
D|——-2——-2|
B|—1——-1—-|
G|-0————–|
D|———2——|
g|—–0——-0–|
""",
    "full-width signs": """
｜－－－－－－－２－－－－－－－２｜
｜－－－１－－－－－－－１－－－－｜
｜－０－－－－－－－－－－－－－－｜
｜－－－－－－－－－２－－－－－－｜
｜－－－－－０－－－－－－－０－－｜
""",
    "a byte-order mark and zero-width spaces": "\ufeff|-------2-------2|\n"
    "|---1-------1\u200b----|\n"
    "|-0--------------|\u200b\n"
    "\u200b|---------2------|\n"
    "|-----0-------0--|\n",
    "quoted in an answer": """
> D|-------2-------2|
> B|---1-------1----|
> G|-0--------------|
> D|---------2------|
> g|-----0-------0--|
""",
    "quoted twice": """
> > |-------2-------2|
> > |---1-------1----|
> > |-0--------------|
> > |---------2------|
> > |-----0-------0--|
""",
    "a code fence": """
here you go
```
D|-------2-------2|
B|---1-------1----|
G|-0--------------|
D|---------2------|
g|-----0-------0--|
```
""",
    "words before and after": """
Here's what I do in bar 3, don’t laugh:

|-------2-------2|
|---1-------1----|
|-0--------------|
|---------2------|
|-----0-------0--|

keep the ring finger down - it helps
""",
    "numbers from 5 down to 1": """
5|-----0-------0--|
4|---------2------|
3|-0--------------|
2|---1-------1----|
1|-------2-------2|
""",
    "letters from the drone string down": """
g|-----0-------0--|
D|---------2------|
G|-0--------------|
B|---1-------1----|
D|-------2-------2|
""",
    "eight columns": """
|---2---2|
|-1---1--|
|0-------|
|----2---|
|--0---0-|
""",
    "eight columns with a space between all signs": """
| - - - 2 - - - 2 |
| - 1 - - - 1 - - |
| 0 - - - - - - - |
| - - - - 2 - - - |
| - - 0 - - - 0 - |
""",
    "sixteen columns with no dash before the first beat": """
|------2-------2-|
|--1-------1-----|
|0---------------|
|--------2-------|
|----0-------0---|
""",
    "a dash before and a dash after": """
|-------2-------2-|
|---1-------1-----|
|-0---------------|
|---------2-------|
|-----0-------0---|
""",
    "thirty-two columns": """
|-------------2---------------2---|
|-----1---------------1-----------|
|-0-------------------------------|
|-----------------2---------------|
|---------0---------------0-------|
""",
}


@pytest.mark.parametrize("text", CLOTHES.values(), ids=CLOTHES)
def test_a_roll_is_the_same_roll_in_other_clothes_with_at_most_one_warning(text: str) -> None:
    reading = read(text)
    assert notes(reading) == ROLL
    assert codes(reading) in ([], ["assumed"])


def test_an_unlabelled_tab_from_a_phone_reads_with_one_warning_that_names_every_guess() -> None:
    reading = read("""
|---0---2|---2---0|
|-0---0--|-1---1--|
|0-------|----0---|
|----0---|2-------|
|--0---0-|--0---0-|
""")
    assert notes(reading) == (
        *((0, 3, 0), (240, 2, 0), (480, 5, 0), (720, 1, 0)),
        *((960, 4, 0), (1200, 2, 0), (1440, 5, 0), (1680, 1, 2)),
        *((1920, 4, 2), (2160, 2, 1), (2400, 5, 0), (2640, 1, 2)),
        *((2880, 3, 0), (3120, 2, 1), (3360, 5, 0), (3600, 1, 0)),
    )
    assert codes(reading) == ["assumed"]
    assert {"tuning", "meter", "columns", "top-row"} <= set(assumptions(reading))
    assert "open G" in said(reading.warnings[0])


def test_a_tab_that_states_everything_reads_without_any_assumption_about_it() -> None:
    reading = read("""
open G, 2/2, capo 2
1|---0----|
2|-0------|
3|0---0-0-|
4|--------|
5|--0-----|
""")
    assert notes(reading) == ((0, 3, 0), (240, 2, 0), (480, 5, 0), (720, 1, 0), (960, 3, 0), (1440, 3, 0))
    assert reading.passage.capo == 2
    assert set(assumptions(reading)) <= {"columns"}


# --- tunings by letter and by word ------------------------------------------------------------------


def test_letters_that_spell_the_modal_tuning_choose_it() -> None:
    reading = read("""
D|---0----|
C|-2------|
G|0---0---|
D|--------|
g|--0---0-|
""")
    assert reading.passage.tuning.id == "sawmill"
    assert notes(reading) == ((0, 3, 0), (240, 2, 2), (480, 5, 0), (720, 1, 0), (960, 3, 0), (1440, 5, 0))


def test_a_tuning_with_a_sharp_in_its_letters_is_found() -> None:
    reading = read("""
D |----0---|
A |-0------|
F#|0---0---|
D |--------|
f#|--0---0-|
""")
    assert reading.passage.tuning.id == "open-d"
    assert notes(reading) == ((0, 3, 0), (240, 2, 0), (480, 5, 0), (960, 1, 0), (960, 3, 0), (1440, 5, 0))


def test_a_tuning_named_in_the_heading_is_taken_for_rows_without_letters() -> None:
    reading = read("""
Gravel Pit Reel - double C

|---0----|
|-0------|
|0---0---|
|--------|
|--0---0-|
""")
    assert reading.passage.tuning.id == "double-c"
    assert "tuning" not in assumptions(reading)


def test_a_tuning_passed_in_wins_over_the_heading() -> None:
    reading = read(
        """
sawmill tuning
|---0----|
|-0------|
|0---0---|
|--------|
|--0---0-|
""",
        tuning="c",
    )
    assert reading.passage.tuning.id == "c"


# --- several measures, several staves ----------------------------------------------------------------


def test_wrapped_staves_go_on_one_after_the_other() -> None:
    reading = read("""
D|---0----|---2----|
B|-0------|-1------|
G|0---0---|----0---|
D|--------|2-------|
g|--0---0-|--0---0-|

D|---4----|--------|
B|-3------|-0------|
G|----2---|0-------|
D|4-------|--------|
g|--0---0-|--0-----|
""")
    assert notes(reading) == (
        *((0, 3, 0), (240, 2, 0), (480, 5, 0), (720, 1, 0), (960, 3, 0), (1440, 5, 0)),
        *((1920, 4, 2), (2160, 2, 1), (2400, 5, 0), (2640, 1, 2), (2880, 3, 0), (3360, 5, 0)),
        *((3840, 4, 4), (4080, 2, 3), (4320, 5, 0), (4560, 1, 4), (4800, 3, 2), (5280, 5, 0)),
        *((5760, 3, 0), (6000, 2, 0), (6240, 5, 0)),
    )


def test_two_staves_without_an_empty_line_between_are_two_staves() -> None:
    reading = read("""
|---0----|
|-0------|
|0---0---|
|--------|
|--0---0-|
|---2----|
|-1------|
|----0---|
|2-------|
|--0---0-|
""")
    assert notes(reading) == (
        *((0, 3, 0), (240, 2, 0), (480, 5, 0), (720, 1, 0), (960, 3, 0), (1440, 5, 0)),
        *((1920, 4, 2), (2160, 2, 1), (2400, 5, 0), (2640, 1, 2), (2880, 3, 0), (3360, 5, 0)),
    )
    assert codes(reading) == ["assumed"]


def test_only_the_first_staff_needs_letters() -> None:
    reading = read("""
D|---0----|
C|-0------|
G|0-------|
C|----0---|
g|--0-----|

 |--------|
 |-2------|
 |--------|
 |2---0---|
 |--0-----|
""")
    assert reading.passage.tuning.id == "double-c"
    assert notes(reading)[5:] == ((1920, 4, 2), (2160, 2, 2), (2400, 5, 0), (2880, 4, 0))


def test_a_measure_cut_by_the_edge_of_the_page_is_joined_again_and_said_so() -> None:
    reading = read("""
D|-------0--------|-------2
B|---0------------|---1----
G|-0-------0------|--------
D|----------------|-2------
g|-----0-------0--|-----0--

D --------|-------0--------|
B --------|---0------------|
G -0------|-0--------------|
D --------|----------------|
g -----0--|-----0----------|
""")
    assert notes(reading) == (
        *((0, 3, 0), (240, 2, 0), (480, 5, 0), (720, 1, 0), (960, 3, 0), (1440, 5, 0)),
        *((1920, 4, 2), (2160, 2, 1), (2400, 5, 0), (2640, 1, 2), (2880, 3, 0), (3360, 5, 0)),
        *((3840, 3, 0), (4080, 2, 0), (4320, 5, 0), (4560, 1, 0)),
    )
    assert "wrapped-measure" in assumptions(reading)


def test_words_sung_between_the_staves_are_not_music() -> None:
    reading = read("""
|---0----|---0----|
|-0------|-0------|
|0-------|0-------|
|--------|--------|
|--0-----|--0-----|
 Roll the bar-rel  down the lane

|--------|
|-1------|
|0-------|
|--------|
|--0-----|
 la - la - la
""")
    assert notes(reading) == (
        *((0, 3, 0), (240, 2, 0), (480, 5, 0), (720, 1, 0)),
        *((1920, 3, 0), (2160, 2, 0), (2400, 5, 0), (2640, 1, 0)),
        *((3840, 3, 0), (4080, 2, 1), (4320, 5, 0)),
    )


def test_measures_of_sixteen_and_of_eight_columns_stand_side_by_side() -> None:
    reading = read("""
1|------2---------|---0----|
2|--1-------------|-0------|
3|----------------|0-------|
4|2-------0h2-----|----0---|
5|----0-----------|--0---0-|
""")
    assert notes(reading) == (
        *((0, 4, 2), (240, 2, 1), (480, 5, 0), (720, 1, 2), (960, 4, 0), (1200, 4, 2, "hammer-on")),
        *((1920, 3, 0), (2160, 2, 0), (2400, 5, 0), (2640, 1, 0), (2880, 4, 0), (3360, 5, 0)),
    )


def test_a_full_roll_on_eight_columns_before_sixteen_is_a_measure_and_no_pickup() -> None:
    # a pickup of half a measure that begins with a whole roll would eat the lick before it
    reading = read("""
1|---0---0|------2---------|
2|-0---0--|--1-------------|
3|0-------|----------------|
4|----0---|2-------0h2-----|
5|--0---0-|----0-----------|
""")
    assert notes(reading) == (
        *((0, 3, 0), (240, 2, 0), (480, 5, 0), (720, 1, 0)),
        *((960, 4, 0), (1200, 2, 0), (1440, 5, 0), (1680, 1, 0)),
        *((1920, 4, 2), (2160, 2, 1), (2400, 5, 0), (2640, 1, 2), (2880, 4, 0), (3120, 4, 2, "hammer-on")),
    )


def test_a_measure_one_dash_too_long_or_too_short_is_read_and_the_short_one_is_said() -> None:
    reading = read("""
1|-------0--------|-------0---------|-------0-------|
2|---0------------|---0-------------|---0-----------|
3|-0--------------|-0---------------|-0-------------|
4|---------0------|---------0-------|---------0-----|
5|-----0----------|-----0-----------|-----0---------|
""")
    bar = ((0, 3, 0), (240, 2, 0), (480, 5, 0), (720, 1, 0), (960, 4, 0))
    assert notes(reading) == tuple((at + start, s, f) for start in (0, 1920, 3840) for at, s, f in bar)
    assert codes(reading) == ["assumed", "measure-short"]
    assert reading.warnings[1].measure == 3


def test_an_empty_measure_keeps_its_time() -> None:
    reading = read("""
|---0----|--------|---0----|
|-0------|--------|-0------|
|0-------|--------|0-------|
|--------|--------|--------|
|--0-----|--------|--0-----|
""")
    assert notes(reading) == (
        *((0, 3, 0), (240, 2, 0), (480, 5, 0), (720, 1, 0)),
        *((3840, 3, 0), (4080, 2, 0), (4320, 5, 0), (4560, 1, 0)),
    )


def test_thirty_two_columns_without_bar_lines_are_two_measures_and_that_is_said() -> None:
    reading = read("""
-------0---------------2--------
---0---------------1------------
-0-------0---------------0------
-----------------2--------------
-----0-------0-------0-------0--
""")
    assert notes(reading) == (
        *((0, 3, 0), (240, 2, 0), (480, 5, 0), (720, 1, 0), (960, 3, 0), (1440, 5, 0)),
        *((1920, 4, 2), (2160, 2, 1), (2400, 5, 0), (2640, 1, 2), (2880, 3, 0), (3360, 5, 0)),
    )
    assert codes(reading) == ["assumed"]
    assert "no-bar-lines" in assumptions(reading)


SIXTEEN_NOTES = """
---0---0---2---2
-0---0---1---1--
0-----------0---
----0---2-------
--0---0---0---0-
"""


def test_sixteen_columns_without_bar_lines_are_one_measure_of_sixteenths_if_nothing_is_said() -> None:
    reading = read(SIXTEEN_NOTES)
    assert [n[:2] for n in notes(reading)][:4] == [(0, 3), (120, 2), (240, 5), (360, 1)]
    assert reading.passage.measures == (1920,)


TWO_MEASURES_OF_EIGHTHS: Notes = (
    *(
        (0, 3, 0),
        (240, 2, 0),
        (480, 5, 0),
        (720, 1, 0),
        (960, 4, 0),
        (1200, 2, 0),
        (1440, 5, 0),
        (1680, 1, 0),
    ),
    *((1920, 4, 2), (2160, 2, 1), (2400, 5, 0), (2640, 1, 2)),
    *((2880, 3, 0), (3120, 2, 1), (3360, 5, 0), (3600, 1, 2)),
)


def test_sixteen_columns_without_bar_lines_are_two_measures_when_two_are_announced() -> None:
    assert notes(read(SIXTEEN_NOTES, measures=2)) == TWO_MEASURES_OF_EIGHTHS


def test_sixteen_columns_without_bar_lines_are_two_measures_when_eight_columns_are_passed_in() -> None:
    assert notes(read(SIXTEEN_NOTES, columns=8)) == TWO_MEASURES_OF_EIGHTHS


def test_eight_columns_a_measure_may_be_stated_in_the_heading() -> None:
    reading = read("open G, cut time, 8 columns a measure\n" + SIXTEEN_NOTES)
    assert notes(reading) == TWO_MEASURES_OF_EIGHTHS


# --- meters ------------------------------------------------------------------------------------------


def test_twelve_columns_are_a_waltz_and_that_is_said() -> None:
    reading = read("""
1|-----0---0--|-----0---0--|
2|-----0---0--|-----1---1--|
3|------------|------------|
4|-0----------|-2----------|
5|------------|------------|
""")
    assert reading.passage.meter.name == "3/4"
    assert notes(reading) == (
        *((0, 4, 0), (480, 1, 0), (480, 2, 0), (960, 1, 0), (960, 2, 0)),
        *((1440, 4, 2), (1920, 1, 0), (1920, 2, 1), (2400, 1, 0), (2400, 2, 1)),
    )
    assert "meter" in assumptions(reading)


def test_a_jig_says_so_in_its_title() -> None:
    reading = read("""
Kettle Lid (jig)
1|-----2-----2|
2|---1-----1--|
3|-0-----0----|
4|------------|
5|------------|
""")
    assert reading.passage.meter.name == "6/8"
    assert notes(reading) == ((0, 3, 0), (240, 2, 1), (480, 1, 2), (720, 3, 0), (960, 2, 1), (1200, 1, 2))
    assert "meter" not in assumptions(reading)


@pytest.mark.parametrize("heading", ["Kettle Hook (slip jig)", "Kettle Hook - in 9/8", "9/8 time"])
def test_a_slip_jig_says_so_in_its_title(heading: str) -> None:
    reading = read(f"""
{heading}
1|-----2-----2-----2|
2|---1-----1-----1--|
3|-0-----0-----0----|
4|------------------|
5|------------------|
""")
    assert reading.passage.meter.name == "9/8"
    assert [onset for onset, *_ in notes(reading)] == list(range(0, 2160, 240))
    assert reading.passage.measures == (2160,)


def test_a_chord_that_stands_beside_the_notes_of_a_slip_jig_comes_on_the_nearest_beat() -> None:
    reading = read("""
9/8
 G      C     D
1|-----2-----2-----2|
2|---1-----1-----1--|
3|-0-----0-----0----|
4|------------------|
5|------------------|
""")
    assert [(c.onset, c.chord.name) for c in reading.passage.changes if c.chord] == [
        (0, "G"), (720, "C"), (1440, "D"),
    ]  # fmt: skip


def test_twelve_eight_is_read_with_one_column_a_note_or_two() -> None:
    close = read("""
12/8
1|--0--0--0--0|
2|-0--1--0--1-|
3|0--2--0--2--|
4|------------|
5|------------|
""")
    roomy = read("""
12/8
1|-----0-----0-----0-----0|
2|---0-----1-----0-----1--|
3|-0-----2-----0-----2----|
4|------------------------|
5|------------------------|
""")
    assert notes(close) == notes(roomy)
    assert [onset for onset, *_ in notes(close)] == list(range(0, 2880, 240))


def test_in_two_four_sixteen_columns_are_sixteenths_in_pairs() -> None:
    reading = read("""
Key of G, 2/4
1|-------0--------|
2|---0------------|
3|-0-------2---0--|
4|----------------|
5|-----0----------|
""")
    assert notes(reading) == ((0, 3, 0), (120, 2, 0), (240, 5, 0), (360, 1, 0), (480, 3, 2), (720, 3, 0))
    assert reading.passage.measures == (960,)


def test_a_meter_passed_in_wins_over_the_one_in_the_text() -> None:
    reading = read(
        """
I count this 2/2, my wife 4/4
1|---0----|
2|-0------|
3|0-------|
4|----0---|
5|--0---0-|
""",
        meter="4/4",
    )
    assert reading.passage.meter.name == "4/4"
    assert notes(reading) == ((0, 3, 0), (240, 2, 0), (480, 5, 0), (720, 1, 0), (960, 4, 0), (1440, 5, 0))


def test_six_columns_in_every_measure_are_a_waltz() -> None:
    reading = read("""
1|--0-0-|--0-0-|
2|--0-0-|--1-1-|
3|------|------|
4|0-----|2-----|
5|------|------|
""")
    assert reading.passage.meter.name == "3/4"
    assert [n[:2] for n in notes(reading)] == [
        *((0, 4), (480, 1), (480, 2), (960, 1), (960, 2)),
        *((1440, 4), (1920, 1), (1920, 2), (2400, 1), (2400, 2)),
    ]


# --- pickups -----------------------------------------------------------------------------------------


def test_a_short_first_measure_is_a_pickup_and_its_notes_come_before_the_bar() -> None:
    reading = read("""
D|----|-------0-------0|
B|----|---0-------0----|
G|-0-2|-0--------------|
D|----|---------0------|
g|----|-----0-------0--|
""")
    assert notes(reading) == (
        *((-480, 3, 0), (-240, 3, 2)),
        *((0, 3, 0), (240, 2, 0), (480, 5, 0), (720, 1, 0)),
        *((960, 4, 0), (1200, 2, 0), (1440, 5, 0), (1680, 1, 0)),
    )
    assert reading.passage.measures == (1920,)
    assert "pickup" in assumptions(reading)


def test_a_pickup_may_stand_before_the_first_bar_line_with_nothing_in_front() -> None:
    reading = read("""
---|---0----|---0----
---|-0------|-0------
0-2|0-------|0-------
---|----0---|----0---
---|--0---0-|--0---0-
""")
    assert notes(reading)[:3] == ((-720, 3, 0), (-240, 3, 2), (0, 3, 0))
    assert reading.passage.measures == (1920, 1920)


def test_a_pickup_may_end_with_two_quick_notes() -> None:
    reading = read("""
1|-----|-------0-------0|
2|-----|---0-------0----|
3|-0-02|-0--------------|
4|-----|---------0------|
5|-----|-----0-------0--|
""")
    assert notes(reading)[:5] == ((-480, 3, 0), (-240, 3, 0), (-120, 3, 2), (0, 3, 0), (240, 2, 0))


def test_a_stated_number_of_measures_makes_a_full_first_measure_a_pickup() -> None:
    reading = read(
        """
1|--------|---0----|---0----|
2|--------|-0------|-0------|
3|------02|0-------|0-------|
4|--------|----0---|----0---|
5|--------|--0-----|--0-----|
""",
        measures=2,
    )
    assert notes(reading)[:4] == ((-480, 3, 0), (-240, 3, 2), (0, 3, 0), (240, 2, 0))
    assert "pickup" not in assumptions(reading)


def test_a_short_last_measure_that_makes_up_for_the_pickup_keeps_the_spacing_of_the_others() -> None:
    reading = read("""
1|----|-------0-------0|-------0----|
2|----|---0-------0----|---0--------|
3|-0-2|-0--------------|-0----------|
4|----|---------0------|---------0--|
5|----|-----0-------0--|-----0------|
""")
    assert notes(reading)[-5:] == ((1920, 3, 0), (2160, 2, 0), (2400, 5, 0), (2640, 1, 0), (2880, 4, 0))


def test_two_quarters_in_a_short_last_measure_stay_two_quarters() -> None:
    reading = read("""
1|----|-------0-------0|------------|
2|----|---0-------0----|------------|
3|-0-2|-0--------------|-0---0------|
4|----|---------0------|------------|
5|----|-----0-------0--|-----0------|
""")
    assert notes(reading)[-3:] == ((1920, 3, 0), (2400, 3, 0), (2400, 5, 0))


# --- two-digit frets and columns that slip -----------------------------------------------------------


def test_two_digit_frets_on_their_columns_push_nothing() -> None:
    reading = read("""
D|-12----10------9|
B|---------10-----|
G|-----11---------|
D|-------------9--|
g|---0-------0----|
""")
    assert notes(reading) == (
        *((0, 1, 12), (240, 5, 0), (480, 3, 11), (720, 1, 10)),
        *((960, 2, 10), (1200, 5, 0), (1440, 4, 9), (1680, 1, 9)),
    )
    assert codes(reading) == ["assumed"]


def test_one_quick_note_moves_no_other_note_off_its_beat() -> None:
    reading = read("""
1|-------0-------0|---------0------|
2|---0-------0----|----------------|
3|-0--------------|-0-23--------0--|
4|---------0------|----------------|
5|-----0-------0--|-----0----------|
""")
    assert notes(reading) == (
        *((0, 3, 0), (240, 2, 0), (480, 5, 0), (720, 1, 0)),
        *((960, 4, 0), (1200, 2, 0), (1440, 5, 0), (1680, 1, 0)),
        *((1920, 3, 0), (2160, 3, 2), (2280, 3, 3), (2400, 5, 0), (2880, 1, 0), (3360, 3, 0)),
    )


def test_a_two_digit_fret_that_pushed_its_measure_along_is_put_back_and_said() -> None:
    reading = read("""
1|--10-----|--------|
2|0------0-|-0------|
3|-0--0---0|0-------|
4|------0--|----0---|
5|-----0---|--0-----|
""")
    assert notes(reading) == (
        *((0, 2, 0), (240, 3, 0), (480, 1, 10), (720, 3, 0)),
        *((960, 5, 0), (1200, 4, 0), (1440, 2, 0), (1680, 3, 0)),
        *((1920, 3, 0), (2160, 2, 0), (2400, 5, 0), (2880, 4, 0)),
    )
    assert codes(reading) == ["assumed", "pushed-columns"]


def test_a_fret_of_two_digits_with_a_dash_after_it_pushes_sixteen_columns_along_by_one() -> None:
    reading = read("""
1|-------12-------0|
2|---8--------8----|
3|-9---------------|
4|----------9------|
5|-----0--------0--|
""")
    assert notes(reading) == (
        *((0, 3, 9), (240, 2, 8), (480, 5, 0), (720, 1, 12)),
        *((960, 4, 9), (1200, 2, 8), (1440, 5, 0), (1680, 1, 0)),
    )
    assert "pushed-columns" in codes(reading)


def test_digits_side_by_side_that_are_no_fret_are_two_notes_and_that_is_said() -> None:
    reading = read("""
1|--------|
2|--------|
3|02--35--|
4|--------|
5|--0---0-|
""")
    assert notes(reading) == (
        *((0, 3, 0), (240, 3, 2), (480, 5, 0)),
        *((960, 3, 3), (1200, 3, 5), (1440, 5, 0)),
    )
    assert codes(reading) == ["assumed", "digits-apart", "digits-apart"]


# --- triplets ----------------------------------------------------------------------------------------


def test_eighth_triplets_stand_two_columns_apart_where_a_quarter_has_six() -> None:
    reading = read("""
1|----0-----------0-------|
2|--0-----------0---------|
3|0-----------0-----------|
4|------------------2-----|
5|------0-----------------|
""")
    assert notes(reading) == (
        *((0, 3, 0), (160, 2, 0), (320, 1, 0), (480, 5, 0)),
        *((960, 3, 0), (1120, 2, 0), (1280, 1, 0), (1440, 4, 2)),
    )


def test_a_measure_with_a_triplet_may_stand_wider_between_plain_ones() -> None:
    reading = read("""
1|---0----|------------------------|---0----|
2|-0------|------0-----------------|-0------|
3|0-------|0-2-3-------0-----------|0-------|
4|----0---|------------------------|--------|
5|--0-----|---------0--------------|--0-----|
""")
    assert notes(reading) == (
        *((0, 3, 0), (240, 2, 0), (480, 5, 0), (720, 1, 0), (960, 4, 0)),
        *((1920, 3, 0), (2080, 3, 2), (2240, 3, 3), (2400, 2, 0), (2640, 5, 0), (2880, 3, 0)),
        *((3840, 3, 0), (4080, 2, 0), (4320, 5, 0), (4560, 1, 0)),
    )


def test_twelve_columns_in_four_four_are_twelve_triplets() -> None:
    reading = read("""
Slow drag, 4/4
1|--0--0--2--0|
2|-0--0--1--0-|
3|0--0-----0--|
4|------2-----|
5|------------|
""")
    assert notes(reading) == (
        *((0, 3, 0), (160, 2, 0), (320, 1, 0), (480, 3, 0), (640, 2, 0), (800, 1, 0)),
        *((960, 4, 2), (1120, 2, 1), (1280, 1, 2), (1440, 3, 0), (1600, 2, 0), (1760, 1, 0)),
    )


# --- techniques --------------------------------------------------------------------------------------


def test_hammer_ons_pull_offs_and_slides_stand_between_their_frets() -> None:
    reading = read("""
1|---------------0|
2|-----0----------|
3|-2/4-----3p2p0--|
4|----------------|
5|-------0--------|
""")
    assert notes(reading) == (
        *((0, 3, 2), (240, 3, 4, "slide"), (480, 2, 0), (720, 5, 0)),
        *((960, 3, 3), (1200, 3, 2, "pull-off"), (1440, 3, 0, "pull-off"), (1680, 1, 0)),
    )


SPELLINGS = {
    "2h4": "hammer-on",
    "2H4": "hammer-on",
    "2^4": "hammer-on",
    "4p2": "pull-off",
    "4P2": "pull-off",
    "4^2": "pull-off",
    "2/4": "slide",
    "4\\2": "slide",
    "2s4": "slide",
    "2S4": "slide",
    "2\u20444": "slide",
    "2\u22154": "slide",
    "4\uff3c2": "slide",
    "2=2": "tie",
    "2_2": "tie",
}


@pytest.mark.parametrize(("link", "technique"), SPELLINGS.items(), ids=SPELLINGS)
def test_each_spelling_of_a_link_is_its_technique(link: str, technique: str) -> None:
    reading = read(f"""
1|-------0--------|
2|----------------|
3|-{link}-----0------|
4|----------------|
5|-----0-------0--|
""")
    assert notes(reading) == (
        *((0, 3, int(link[0])), (240, 3, int(link[2]), technique), (480, 5, 0)),
        *((720, 1, 0), (960, 3, 0), (1440, 5, 0)),
    )


def test_a_slide_written_with_two_letters_pushes_nothing_out_of_time() -> None:
    reading = read("""
1|---------0------|
2|----------------|
3|-2sl4--------0--|
4|----------------|
5|-----------0----|
""")
    # the 4 is squeezed half a column late by the letters, on the sixteenth after the eighth
    assert [n[1:] for n in notes(reading)] == [(3, 2), (3, 4, "slide"), (1, 0), (5, 0), (3, 0)]
    assert [n[0] for n in notes(reading)][2:] == [960, 1200, 1440]


def test_a_hammer_on_and_a_slide_reach_over_the_bar_line() -> None:
    reading = read("""
1|--------|--------|
2|------2h|3---0---|
3|0---2---|--0-----|
4|--0-----|--------|
5|--------|------0-|
""")
    assert notes(reading) == (
        *((0, 3, 0), (480, 4, 0), (960, 3, 2), (1440, 2, 2)),
        *((1920, 2, 3, "hammer-on"), (2400, 3, 0), (2880, 2, 0), (3360, 5, 0)),
    )


def test_a_tie_reaches_over_the_bar_line() -> None:
    reading = read("""
1|-----------0----|----------------|
2|----------------|---------0------|
3|-0-----------2==|=2--------------|
4|----------------|----------------|
5|-------0--------|-----0-------0--|
""")
    assert notes(reading) == (
        *((0, 3, 0), (720, 5, 0), (1200, 1, 0), (1440, 3, 2)),
        *((1920, 3, 2, "tie"), (2400, 5, 0), (2880, 2, 0), (3360, 5, 0)),
    )


def test_a_slide_into_a_note_from_nowhere_is_a_slide() -> None:
    reading = read("""
1|---------0------|
2|----------------|
3|/4-----------0--|
4|----------------|
5|-----0----------|
""")
    assert notes(reading) == ((0, 3, 4, "slide"), (480, 5, 0), (960, 1, 0), (1440, 3, 0))


@pytest.mark.parametrize("choke", ["10b-", "10c-", "10ch"])
def test_chokes_stand_right_after_their_fret(choke: str) -> None:
    reading = read(f"""
1|-{choke}--------8--|
2|---------10-----|
3|----------------|
4|----------------|
5|-----0----------|
""")
    assert notes(reading) == ((0, 1, 10, "choke"), (480, 5, 0), (960, 2, 10), (1440, 1, 8))


def test_a_bend_to_a_written_fret_is_one_note_and_not_two() -> None:
    reading = read("""
1|-7b9---------7--|
2|---------8------|
3|----------------|
4|----------------|
5|-----0----------|
""")
    assert notes(reading) == ((0, 1, 7, "choke"), (480, 5, 0), (960, 2, 8), (1440, 1, 7))


def test_waves_after_a_note_are_vibrato_and_tie_nothing() -> None:
    reading = read("""
1|-7~~~----5---0--|
2|----------------|
3|----------------|
4|----------------|
5|-----0----------|
""")
    assert notes(reading) == ((0, 1, 7), (480, 5, 0), (960, 1, 5), (1440, 1, 0))


def test_mutes_and_ghost_notes_are_heard_as_such() -> None:
    reading = read("""
1|-x-------X------|
2|-x-------X------|
3|----------------|
4|----(2)------0--|
5|----------------|
""")
    assert notes(reading) == (
        *((0, 1, 0, "mute"), (0, 2, 0, "mute"), (480, 4, 2, "ghost")),
        *((960, 1, 0, "mute"), (960, 2, 0, "mute"), (1440, 4, 0)),
    )


def test_a_mute_as_a_multiplication_sign_is_a_mute() -> None:
    reading = read("""
1|×---×---|
2|×---×---|
3|--0-----|
4|--------|
5|------0-|
""")
    assert notes(reading) == (
        *((0, 1, 0, "mute"), (0, 2, 0, "mute"), (480, 3, 0)),
        *((960, 1, 0, "mute"), (960, 2, 0, "mute"), (1440, 5, 0)),
    )


def test_a_ghost_note_whose_brackets_pushed_the_rest_along_is_put_back() -> None:
    reading = read("""
1|---------0-------0|
2|-----------0------|
3|-0-(2)------------|
4|-------------0----|
5|-------0-------0--|
""")
    assert notes(reading) == (
        *((0, 3, 0), (240, 3, 2, "ghost"), (480, 5, 0), (720, 1, 0)),
        *((960, 2, 0), (1200, 4, 0), (1440, 5, 0), (1680, 1, 0)),
    )
    assert "pushed-columns" in codes(reading)


def test_a_hammer_on_downwards_is_turned_round_and_said() -> None:
    reading = read("""
1|---0----|
2|--------|
3|2h0-----|
4|----0---|
5|--------|
""")
    assert notes(reading) == ((0, 3, 2), (480, 3, 0, "pull-off"), (720, 1, 0), (960, 4, 0))
    assert codes(reading) == ["assumed", "link-turned"]


def test_a_harmonic_is_a_plain_note_and_that_is_said() -> None:
    reading = read("""
1|<12>------------|
2|<12>------------|
3|----------------|
4|---------0------|
5|----------------|
""")
    assert [n[1:] for n in notes(reading)] == [(1, 12), (2, 12), (4, 0)]
    assert [n[0] for n in notes(reading)] == [0, 0, 960]
    assert codes(reading).count("harmonic-as-note") == 2


def test_a_slide_off_the_end_leads_nowhere_and_that_is_said() -> None:
    reading = read("""
1|-----0----------|
2|----------------|
3|-0-------7\\-----|
4|----------------|
5|----------------|
""")
    assert notes(reading) == ((0, 3, 0), (480, 1, 0), (960, 3, 7))
    assert codes(reading) == ["assumed", "link-to-nowhere"]


# --- the short fifth string --------------------------------------------------------------------------


def test_frets_one_to_five_on_the_fifth_string_are_counted_from_its_peg_with_one_warning() -> None:
    reading = read("""
1|-7-----7|9-------|
2|--------|-10-----|
3|--------|--------|
4|--------|--------|
5|2---2--5|--4---0-|
""")
    # beside the second fret of its own peg lies the seventh of the neck
    assert notes(reading) == (
        *((0, 5, 7), (240, 1, 7), (960, 5, 7), (1680, 1, 7), (1680, 5, 10)),
        *((1920, 1, 9), (2160, 2, 10), (2400, 5, 9), (3360, 5, 0)),
    )
    assert codes(reading).count("fifth-from-peg") == 1


def test_frets_six_and_up_on_the_fifth_string_are_as_written_without_a_word() -> None:
    reading = read("""
1|-------9-------9|
2|----------------|
3|----------------|
4|----------------|
5|-7-------10--12-|
""")
    assert notes(reading) == ((0, 5, 7), (720, 1, 9), (960, 5, 10), (1440, 5, 12), (1680, 1, 9))
    assert codes(reading) == ["assumed"]


def test_low_frets_on_the_fifth_string_of_a_guitar_are_just_low_frets() -> None:
    reading = read(
        """
e|--------|
B|--------|
G|------0-|
D|----0---|
A|0-23----|
E|--------|
""",
        "guitar",
    )
    assert notes(reading) == ((0, 5, 0), (480, 5, 2), (720, 5, 3), (960, 4, 0), (1440, 3, 0))
    assert "fifth-from-peg" not in codes(reading)


# --- what stands around the rows ---------------------------------------------------------------------


def test_chords_above_change_where_they_stand() -> None:
    reading = read("""
   G                C       D7
D|-------0--------|-------2--------|
B|---0------------|---1------------|
G|-0-------0------|---------2------|
D|----------------|-2--------------|
g|-----0-------0--|-----0-------0--|
""")
    assert [(c.onset, c.chord) for c in reading.passage.changes] == [
        (0, chord_named("G")),
        (1920, chord_named("C")),
        (2880, chord_named("D7")),
    ]
    assert codes(reading) == ["assumed"]


def test_chords_between_bars_of_their_own_are_chords_too() -> None:
    reading = read("""
 | Em     | N.C.   |
1|---0----|---0----|
2|-0------|-0------|
3|0-------|0-------|
4|--2-----|--0-----|
5|--------|--------|
""")
    assert [(c.onset, c.chord) for c in reading.passage.changes] == [(0, chord_named("Em")), (1920, None)]


def test_a_word_among_the_chords_is_left_out_and_said_with_its_place() -> None:
    reading = read("""\
   G       Boom     C
1|-------0--------|-------2--------|
2|---0------------|---1------------|
3|-0-------0------|---------2------|
4|----------------|-2--------------|
5|-----0----------|-----0----------|
""")
    assert [(w.code, w.line, w.column) for w in reading.warnings if w.code == "not-a-chord"] == [
        ("not-a-chord", 1, 12)
    ]


def test_picking_fingers_below_go_to_the_notes_above_them() -> None:
    reading = read("""
1|-------0-------0|
2|---0-------0----|
3|-0--------------|
4|---------0------|
5|-----0-------0--|
   T I T M T I T M
""")
    assert "".join(n.finger or "." for n in reading.passage.notes) == "TITMTITM"
    assert codes(reading) == ["assumed"]


def test_a_pinch_has_two_fingers_one_above_the_other() -> None:
    reading = read("""
1|0---0---|
2|--0-----|
3|----0-0-|
4|--------|
5|0-------|
  M I M I
  T   T
""")
    fingers = [(n.onset, n.string, n.finger) for n in reading.passage.notes]
    assert fingers == [
        *((0, 1, "M"), (0, 5, "T"), (480, 2, "I")),
        *((960, 1, "M"), (960, 3, "T"), (1440, 3, "I")),
    ]


def test_picking_fingers_in_small_letters_are_the_same_fingers() -> None:
    reading = read("""
1|-------0-------0|
2|---0-------0----|
3|-0--------------|
4|---------0------|
5|-----0-------0--|
   t i t m t i t m
""")
    assert "".join(n.finger or "." for n in reading.passage.notes) == "TITMTITM"


def test_a_finger_under_no_note_is_said_with_its_line_and_column() -> None:
    reading = read("""\
1|-------0-------0|
2|---0------------|
3|-0--------------|
4|----------------|
5|-----0----------|
   T I T M   I   M
""")
    said_of = [(w.code, w.line, w.column) for w in reading.warnings if w.code == "finger-without-note"]
    assert said_of == [("finger-without-note", 6, 14)]


def test_a_row_that_counts_the_beats_makes_no_measure_a_pickup() -> None:
    reading = read("""
   1   2   3   4    1   2   3   4
1|-------0-------0|-------0-------0|
2|---0-------0----|---0-------0----|
3|-0--------------|-0--------------|
4|---------0------|---------0------|
5|-----0-------0--|-----0-------0--|
""")
    assert reading.passage.measures == (1920, 1920)
    assert notes(reading)[0] == (0, 3, 0)


def test_measure_numbers_above_say_where_measure_one_is() -> None:
    reading = read("""
             1        2
1|----------|---0----|---0----|
2|----------|-0------|-0------|
3|------0-2-|0-------|0-------|
4|----------|----0---|----0---|
5|----------|--0-----|--0-----|
""")
    assert reading.passage.measures == (1920, 1920)
    assert next(n for n in notes(reading) if n[0] >= 0) == (0, 3, 0)
    assert notes(reading)[0][0] < 0


def test_words_after_the_last_bar_are_left_out_and_said() -> None:
    reading = read("""\
1|---0----|
2|-0------|  let it ring
3|0-------|
4|----0---|  x2
5|--0-----|
""")
    assert notes(reading) == ((0, 3, 0), (240, 2, 0), (480, 5, 0), (720, 1, 0), (960, 4, 0))
    assert [(w.line, w.column) for w in reading.warnings if w.code == "trailing-words"] == [(2, 14), (4, 14)]


def test_an_arrow_and_a_thought_after_a_row_without_a_last_bar_are_not_music() -> None:
    reading = read("""
1|---0----
2|-0------   <- index here
3|0-------
4|----0---
5|--0-----
""")
    assert notes(reading) == ((0, 3, 0), (240, 2, 0), (480, 5, 0), (720, 1, 0), (960, 4, 0))
    assert "trailing-words" in codes(reading)


def test_an_empty_row_cut_short_by_the_chat_is_read_as_empty_and_said() -> None:
    reading = read("""\
1|---0----|
2|-0------|
3|0-------|
4|-----|
5|--0-----|
""")
    assert notes(reading) == ((0, 3, 0), (240, 2, 0), (480, 5, 0), (720, 1, 0))
    assert [(w.code, w.line) for w in reading.warnings if w.code != "assumed"] == [("empty-row-width", 4)]


def test_a_number_of_measures_that_is_not_there_is_said() -> None:
    reading = read("|---0----|\n|-0------|\n|0-------|\n|--------|\n|--0-----|\n", measures=2)
    (warning,) = [w for w in reading.warnings if w.code == "measure-count"]
    assert said(warning).startswith("1 measures were found, 2 were announced")


def test_columns_passed_in_are_no_assumption() -> None:
    reading = read(CLOTHES["nothing before the rows"], columns=16)
    assert notes(reading) == ROLL
    assert "columns" not in assumptions(reading)


def test_rows_left_out_are_empty_if_the_others_are_numbered() -> None:
    reading = read("""
1|---0---0|
3|0---2---|
5|--0---0-|
""")
    assert notes(reading) == ((0, 3, 0), (480, 5, 0), (720, 1, 0), (960, 3, 2), (1440, 5, 0), (1680, 1, 0))
    assert "missing-rows" in assumptions(reading)


# --- repeats and endings -----------------------------------------------------------------------------


def test_colons_at_the_bars_repeat_what_stands_between() -> None:
    reading = read("""
1|---0----|:---2----:|---0----|
2|-0------|:-1------:|-0------|
3|0-------|:--------:|0-------|
4|--------|:2-------:|--------|
5|--0-----|:--0-----:|--0-----|
""")
    assert reading.played == (1, 2, 2, 3)
    assert notes(reading) == (
        *((0, 3, 0), (240, 2, 0), (480, 5, 0), (720, 1, 0)),
        *((1920, 4, 2), (2160, 2, 1), (2400, 5, 0), (2640, 1, 2)),
        *((3840, 4, 2), (4080, 2, 1), (4320, 5, 0), (4560, 1, 2)),
        *((5760, 3, 0), (6000, 2, 0), (6240, 5, 0), (6480, 1, 0)),
    )


@pytest.mark.parametrize("dot", [":", "*", "o", "\u2022"], ids=["colon", "star", "small o", "bullet"])
def test_dots_on_two_rows_only_are_repeat_signs(dot: str) -> None:
    reading = read(f"""
D||----0----|---2-----||
B||{dot}-0------|-1------{dot}||
G||-0-------|---------||
D||{dot}--------|2-------{dot}||
g||---0-----|--0------||
""")
    assert reading.played == (1, 2, 1, 2)
    assert notes(reading)[:8] == (
        *((0, 3, 0), (240, 2, 0), (480, 5, 0), (720, 1, 0)),
        *((1920, 4, 2), (2160, 2, 1), (2400, 5, 0), (2640, 1, 2)),
    )


def test_a_repeat_sign_without_a_beginning_goes_back_to_the_first_bar_and_not_to_the_pickup() -> None:
    reading = read("""
1|--|---0----|---0----:|
2|--|-0------|-0------:|
3|02|0-------|2-------:|
4|--|--------|--------:|
5|--|--0-----|--0-----:|
""")
    assert reading.played == (1, 2, 1, 2)
    assert [n for n in notes(reading) if n[0] < 0] == [(-480, 3, 0), (-240, 3, 2)]
    assert [n for n in notes(reading) if n[1] == 3 and n[0] >= 0] == [
        *((0, 3, 0), (1920, 3, 2), (3840, 3, 0), (5760, 3, 2)),
    ]


def test_first_and_second_endings_take_turns() -> None:
    reading = read("""
             1.        2.
1||:---0---0|---0---0:|---0----||
2||:-0---0--|-0---0--:|-0------||
3||:0-------|2-------:|5-------||
4||:----0---|----0---:|----0---||
5||:--0---0-|--0---0-:|--0-----||
""")
    assert reading.played == (1, 2, 1, 3)
    assert [n for n in notes(reading) if n[1] == 3] == [(0, 3, 0), (1920, 3, 2), (3840, 3, 0), (5760, 3, 5)]


def test_endings_with_brackets_drawn_out_take_turns_too() -> None:
    reading = read("""
            |1.______ |2.______
1|:---0---0 |---0---0:|---0----|
2|:-0---0-- |-0---0--:|-0------|
3|:0------- |2-------:|5-------|
4|:----0--- |----0---:|----0---|
5|:--0---0- |--0---0-:|--0-----|
""")
    assert reading.played == (1, 2, 1, 3)


# --- other instruments -------------------------------------------------------------------------------


def test_a_guitar_strum_and_a_bass_run() -> None:
    reading = read(
        """
e|-----3---3--|
B|-----0---0--|
G|-----0---0--|
D|------------|
A|------------|
E|-3----------|
""",
        "guitar",
        meter="3/4",
    )
    assert notes(reading) == (
        *((0, 6, 3), (480, 1, 3), (480, 2, 0), (480, 3, 0)),
        *((960, 1, 3), (960, 2, 0), (960, 3, 0)),
    )


def test_a_guitar_run_without_letters_reads_with_one_warning() -> None:
    reading = read(
        """
|----------------|----------------|
|----------------|-0-------3------|
|-----------0-2--|----------------|
|-----0-2--------|----------------|
|-2h3------------|----------------|
|----------------|----------------|
""",
        "guitar",
    )
    assert notes(reading) == (
        *((0, 5, 2), (240, 5, 3, "hammer-on"), (480, 4, 0), (720, 4, 2), (1200, 3, 0), (1440, 3, 2)),
        *((1920, 2, 0), (2880, 2, 3)),
    )
    assert codes(reading) == ["assumed"]


def test_a_guitar_upside_down_is_turned_by_its_letters() -> None:
    reading = read(
        """
E|3-------|
A|--2-----|
D|----0---|
G|------0-|
B|--------|
e|--------|
""",
        "guitar",
    )
    assert notes(reading) == ((0, 6, 3), (480, 5, 2), (960, 4, 0), (1440, 3, 0))
    assert "turned" in assumptions(reading)


def test_guitar_letters_with_a_low_d_choose_that_tuning() -> None:
    reading = read(
        """
E|--------|
B|------3-|
G|----2---|
D|--0-----|
A|--------|
D|0-------|
""",
        "guitar",
    )
    assert reading.passage.tuning.id == "drop-d"
    assert notes(reading) == ((0, 6, 0), (480, 4, 0), (960, 3, 2), (1440, 2, 3))


def test_mandolin_double_stops_in_four_rows() -> None:
    reading = read(
        """
E |-2---3---5------|
A |-0---2---3---5--|
D |-------------4--|
G |----------------|
""",
        "mandolin",
    )
    assert notes(reading) == (
        *((0, 1, 2), (0, 2, 0), (480, 1, 3), (480, 2, 2)),
        *((960, 1, 5), (960, 2, 3), (1440, 2, 5), (1440, 3, 4)),
    )


def test_a_mandolin_tab_without_letters_in_two_staves_reads_with_one_warning() -> None:
    reading = read(
        "|--------|\r\n|0-2-3-5-|\r\n|--------|\r\n|--------|\r\n\r\n"
        "|0---2---|\r\n|------3-|\r\n|--------|\r\n|--------|\r\n",
        "mandolin",
    )
    assert notes(reading) == (
        *((0, 2, 0), (480, 2, 2), (960, 2, 3), (1440, 2, 5)),
        *((1920, 1, 0), (2880, 1, 2), (3360, 2, 3)),
    )
    assert codes(reading) == ["assumed"]


def test_a_ukulele_arpeggio_with_its_picking_fingers() -> None:
    reading = read(
        """
   C
A|-------3-------3|
E|-----0-------0--|
C|---0-------0----|
g|-0-------0------|
   p i m a p i m a
""",
        "ukulele",
    )
    assert notes(reading) == (
        *((0, 4, 0), (240, 3, 0), (480, 2, 0), (720, 1, 3)),
        *((960, 4, 0), (1200, 3, 0), (1440, 2, 0), (1680, 1, 3)),
    )
    assert "".join(n.finger or "." for n in reading.passage.notes) == "pimapima"
    assert [c.chord for c in reading.passage.changes] == [chord_named("C")]


# --- faults: where, and what to type instead ---------------------------------------------------------


@pytest.mark.parametrize("text", ["", "\r\n\r\n", "anybody got the tab for the kick-off?"])
def test_a_text_without_rows_asks_for_as_many_rows_as_there_are_strings(text: str) -> None:
    (fault,) = faults(text)
    assert (fault.code, fault.line, fault.column) == ("no-tab", 1, 1)
    assert "Write 5 rows" in said(fault)


def test_four_rows_for_five_strings_are_a_fault_at_the_first_of_them() -> None:
    (fault,) = faults("""\
my lick, not sure about it

|---0----|
|-0------|
|0-------|
|--0-----|
""")
    assert (fault.code, fault.line, fault.column) == ("wrong-row-count", 3, 1)
    assert fault.excerpt == "|---0----|"
    assert "stand together here: 4." in said(fault)
    assert "Write all 5 rows" in said(fault)


def test_a_guitar_tab_sent_for_a_banjo_is_told_that_a_banjo_has_five_strings() -> None:
    (fault,) = faults("e|0---|\nB|----|\nG|----|\nD|----|\nA|----|\nE|3---|\n")
    assert (fault.code, fault.line, fault.column) == ("wrong-row-count", 1, 1)
    assert "Strings of a five-string banjo: 5." in said(fault)


def test_a_sign_that_means_nothing_is_shown_at_its_own_place() -> None:
    (fault,) = faults("""\
1|---0----|
2|-0------|
3|0---?---|
4|--------|
5|--0-----|
""")
    assert (fault.code, fault.line, fault.column) == ("unknown-mark", 3, 7)
    assert "?" in (fault.excerpt or "")
    assert "“?” means nothing" in said(fault)
    assert "Use frets" in said(fault)


def test_columns_of_faults_count_the_signs_as_they_were_pasted() -> None:
    found = faults(
        "D|———-?———-2|\n"  # an em dash is one sign however many hyphens it stands for
        "B|—-1———-1——|\n"
        "G|-0———————|\n"
        "D|————-2———|\n"
        "g|——-0———-?—|\n"
    )
    assert places(found) == [("unknown-mark", 1, 7), ("unknown-mark", 5, 11)]


def test_a_tab_character_and_a_no_break_space_count_as_one_column_each() -> None:
    found = faults(
        "\t|---?----|\n\t|-0------|\n\t|0-------|\n\u00a0\u00a0|--------|\n\u00a0\u00a0|--!-----|\n"
    )
    assert places(found) == [("unknown-mark", 1, 6), ("unknown-mark", 5, 6)]


def test_the_letter_o_for_a_nought_is_shown() -> None:
    (fault,) = faults("1|---0----|\n2|-0------|\n3|O-------|\n4|--------|\n5|--0-----|\n")
    assert (fault.code, fault.line, fault.column) == ("letter-for-nought", 3, 3)
    assert "Type 0" in said(fault)


def test_a_stray_letter_in_a_numbered_row_is_a_fault_and_drops_no_row() -> None:
    found = faults("1|---0----|\n2|-0------|\n3|0---k---|\n4|--------|\n5|--0-----|\n")
    assert places(found) == [("unknown-mark", 3, 7)]


def test_a_stray_letter_in_a_row_without_an_opening_bar_is_a_fault_and_drops_no_row() -> None:
    found = faults("1:---0----|\n2:-0------|\n3:0---k---|\n4:--------|\n5:--0-----|\n")
    assert places(found) == [("unknown-mark", 3, 7)]


def test_a_stray_letter_in_a_bare_row_is_the_fault_and_not_the_number_of_rows() -> None:
    found = faults("|---0----|\n|-0------|\n|0---k---|\n|--------|\n|--0-----|\n")
    assert places(found) == [("unknown-mark", 3, 6)]


def test_an_arrow_for_a_slide_is_told_how_slides_are_typed() -> None:
    (fault,) = faults(
        "1|-------0--------|\n"
        "2|----------------|\n"
        "3|-2→4-----0------|\n"
        "4|----------------|\n"
        "5|----------------|\n"
    )
    assert (fault.code, fault.line, fault.column) == ("unknown-mark", 3, 5)
    assert "/ or \\ for slides" in said(fault)


def test_digits_that_can_be_cut_in_several_ways_are_a_fault() -> None:
    (fault,) = faults("""\
1|-1210-----------|
2|----------------|
3|---------0------|
4|----------------|
5|-------0--------|
""")
    assert (fault.code, fault.line, fault.column) == ("run-together", 1, 4)
    assert "1210" in said(fault)
    assert "Put a - between" in said(fault)


def test_a_row_with_a_bar_line_left_out_is_the_row_at_fault() -> None:
    (fault,) = faults("""\
1|---0----|---0----|
2|-0------|-0------|
3|0-------|0-------|
4|--------0--------|
5|--0-----|--0-----|
""")
    assert (fault.code, fault.line, fault.column) == ("bars-do-not-line-up", 4, 2)
    assert "1 measures, the others have 2" in said(fault)
    assert "same bar lines" in said(fault)


def test_a_row_with_a_dash_too_many_in_its_second_measure_is_shown_there() -> None:
    (fault,) = faults("""\
1|---0----|---0----|
2|-0------|-0-------|
3|0-------|0-------|
4|----0---|----0---|
5|--0-----|--0-----|
""")
    assert (fault.code, fault.line, fault.column) == ("row-width", 2, 12)
    assert "In measure 2 this row is 9 columns wide, the others are 8" in said(fault)
    assert "dashes" in said(fault)


def test_a_measure_of_thirteen_columns_falls_on_no_grid() -> None:
    (fault,) = faults("""\
cut time
1|---0----|----0--------|
2|-0------|--0----------|
3|0-------|0-----------0|
4|----0---|-------0-----|
5|--0-----|-----------0-|
""")
    assert (fault.code, fault.line, fault.column, fault.measure) == ("cannot-place", 2, 12, 2)
    assert "13 columns" in said(fault)
    assert "do not fall on 8 or twice 8 even steps of 2/2" in said(fault)


def test_sixteenths_where_eight_columns_were_demanded_are_a_fault() -> None:
    (fault,) = faults(
        """\
1|--0-----0-------|
2|-0--------------|
3|0---0-----------|
4|----------------|
5|---0------------|
""",
        columns=8,
    )
    assert (fault.code, fault.line, fault.column) == ("cannot-place-stated", 1, 3)


def test_a_choke_before_its_note_is_told_where_chokes_go() -> None:
    (fault,) = faults(
        "1|-b10-----8------|\n"
        "2|----------------|\n"
        "3|----------------|\n"
        "4|----------------|\n"
        "5|-----0----------|\n"
    )
    assert (fault.code, fault.line, fault.column) == ("choke-without-note", 1, 4)
    assert "right after the fret" in said(fault)


def test_a_fret_beyond_the_neck_is_shown() -> None:
    (fault,) = faults(
        "1|-(23)----0------|\n"
        "2|----------------|\n"
        "3|----------------|\n"
        "4|----------------|\n"
        "5|----------------|\n"
    )
    assert (fault.code, fault.line, fault.column) == ("no-such-fret", 1, 5)
    assert "no fret 23 on string 1" in said(fault)


def test_a_tie_to_another_fret_is_shown_where_the_second_fret_stands() -> None:
    (fault,) = faults("""\
1|-------0--------|
2|----------------|
3|-2=4-----0------|
4|----------------|
5|-----0----------|
""")
    assert fault.code == "tie-to-other-fret"
    assert "A tie joins equal frets" in said(fault)
    assert (fault.line, fault.column) == (3, 6)


def test_letters_that_spell_no_tuning_are_a_fault_that_offers_numbers() -> None:
    (fault,) = faults("""\
E|---0----|
B|-0------|
A|0-------|
E|----0---|
a|--0-----|
""")
    assert (fault.code, fault.line, fault.column) == ("labels-name-no-tuning", 1, 1)
    assert "E B A E a" in said(fault)
    assert "number the rows" in said(fault)


def test_rows_without_a_single_note_are_a_fault() -> None:
    (fault,) = faults("|--------|\n" * 5)
    assert (fault.code, fault.line, fault.column) == ("no-notes", 1, 1)
    assert "Write frets" in said(fault)


def test_two_faults_in_one_row_are_two_places() -> None:
    found = faults("1|---0----|\n2|-0------|\n3|0-?--!--|\n4|--------|\n5|--0-----|\n")
    assert places(found) == [("unknown-mark", 3, 5), ("unknown-mark", 3, 8)]


def test_every_fault_is_reported_at_once_in_reading_order() -> None:
    found = faults("""\
1|---?----|--------|
2|-0------|---!----|
3|0-------|0-------|
4|b-------|--------|
5|--0-----|--0-----|
""")
    assert sorted(places(found)) == [
        ("choke-without-note", 4, 3),
        ("unknown-mark", 1, 6),
        ("unknown-mark", 2, 15),
    ]
    assert [fault.measure for fault in found] == [1, 1, 2]


def test_a_text_as_long_as_a_book_is_refused_before_it_is_read() -> None:
    (fault,) = faults("|--------|\n" * 10_000)
    assert (fault.code, fault.line, fault.column) == ("text-too-long", 1, 1)
    assert "Send it in parts" in said(fault)


@pytest.mark.parametrize("text", ["|--0--|", "-0-2-3-2-0-"])
def test_one_row_alone_asks_for_the_others(text: str) -> None:
    (fault,) = faults(text)
    assert (fault.code, fault.line, fault.column) == ("wrong-row-count", 1, 1)


def test_rows_pasted_with_an_empty_line_after_each_are_one_staff() -> None:
    reading = read(
        "1|-------0-------0|\n\n2|---0-------0----|\n\n3|-0--------------|\n\n4|---------0------|\n\n5|-----0-------0--|\n"
    )
    assert notes(reading)[:3] == ((0, 3, 0), (240, 2, 0), (480, 5, 0))


@pytest.mark.parametrize("labels", ["11345", "1D345", "12435"])
def test_labels_in_no_order_are_a_fault(labels: str) -> None:
    (fault,) = faults("\n".join(f"{label}|---0----|" for label in labels))
    assert fault.code == "labels-out-of-order"
    assert " ".join(labels) in said(fault)


def test_a_repeat_sign_in_place_of_the_last_dash_keeps_its_measure() -> None:
    reading = read("""
1|-------0-------0|-------0------:|
2|---0-------0----|---0-----------|
3|-0--------------|-0------------:|
4|---------0------|---------0-----|
5|-----0-------0--|-----0---------|
""")
    assert reading.passage.measures == (1920,) * 4
    assert all(said(warning) for warning in reading.warnings)


def test_a_short_measure_in_the_middle_is_read_and_said() -> None:
    reading = read("""
1|-0---0---0---0--|-0---0---0--|-0---0---0---0--|
2|----------------|------------|----------------|
3|----------------|------------|----------------|
4|----------------|------------|----------------|
5|----------------|------------|----------------|
""")
    (remark,) = [w for w in reading.warnings if w.code == "measure-short"]
    assert said(remark).startswith("Measure 2 is 12 columns wide where 16 were expected")


@pytest.mark.parametrize(
    ("heading", "capo"),
    [
        ("capo 2", 2),
        ("Capo: 3", 3),
        ("Capo 2nd fret", 2),
        ("capo on the 2nd fret", 2),
        ("capo II", 2),
        ("no capo", 0),
    ],
)
def test_a_capo_is_understood_as_people_write_it(heading: str, capo: int) -> None:
    roll = "1|-------0-------0|\n2|---0-------0----|\n3|-0--------------|\n4|---------0------|\n5|-----0-------0--|\n"
    reading = read(f"{heading}\n\n{roll}")
    assert reading.passage.capo == capo
    assert "capo-not-understood" not in codes(reading)
    assert "capo-not-understood" in codes(read(f"with a capo somewhere\n\n{roll}"))


@pytest.mark.parametrize(
    ("heading", "code", "column"),
    [("Time: 5/4", "unknown-meter", 7), ("Tuning: double D (aDADE)", "unknown-tuning", 9)],
)
def test_a_stated_meter_or_tuning_that_is_not_known_is_no_licence_to_guess(
    heading: str, code: str, column: int
) -> None:
    roll = "1|-------0-------0|\n2|---0-------0----|\n3|-0--------------|\n4|---------0------|\n5|-----0-------0--|\n"
    (fault,) = faults(f"{heading}\n\n{roll}")
    assert (fault.code, fault.line, fault.column) == (code, 1, column)


def test_a_fret_that_the_capo_leaves_no_room_for_is_a_fault() -> None:
    (fault,) = faults(
        "capo 5\n\n1|-20-------------|\n2|----------------|\n3|----------------|\n4|----------------|\n5|----------------|\n"
    )
    assert fault.code == "no-such-fret"


PLAIN = "1|-------0-------0|\n2|---0-------0----|\n3|-0--------------|\n4|---------0------|\n5|-----0-------0--|\n"


@pytest.mark.parametrize(
    "heading",
    ["3/4/2024", "posted 6/8/2023", "page 3/4", "take 2/4 of this", "sawmill creek", "Double C by Joe",
     "open D is fun", "without capo 3", "time: 5 minutes", "fingering 4/8"],
)  # fmt: skip
def test_dates_and_names_in_a_heading_state_nothing(heading: str) -> None:
    reading = read(f"{heading}\n\n{PLAIN}")
    passage = reading.passage
    assert (passage.meter.name, passage.tuning.id, passage.capo) == ("2/2", "open-g", 0)
    assert {"meter", "tuning"} <= set(assumptions(reading))


@pytest.mark.parametrize(
    ("heading", "meter", "tuning", "capo", "stop"),
    [
        ("open G (gDGBD), 2/2, capo 2", "2/2", "open-g", 2, None),
        ("Waltz - sawmill tuning, capo2", "3/4", "sawmill", 2, None),
        ("tuning: g D G B D", "2/2", "open-g", 0, None),
        ("Heron · in 6/8 · fifth string at 7", "6/8", "open-g", 0, 69),
        ("banjo in double C, capo 5, fifth string open", "2/2", "double-c", 5, 67),
    ],
)
def test_a_heading_states_meter_tuning_capo_and_stop(
    heading: str, meter: str, tuning: str, capo: int, stop: int | None
) -> None:
    rows = PLAIN if meter == "2/2" else PLAIN.replace("-------0|", "---|").replace("----|", "|")
    reading = read(f"{heading}\n\n{rows if meter == '2/2' else WALTZ}")
    passage = reading.passage
    assert (passage.meter.name, passage.tuning.id, passage.capo, passage.stop) == (meter, tuning, capo, stop)


WALTZ = "1|-------0---0|\n2|---0--------|\n3|-0----------|\n4|------------|\n5|-----0------|\n"


def test_a_stop_that_cannot_be_is_said() -> None:
    assert "stop-not-understood" in codes(read(f"fifth string at 3\n\n{PLAIN}"))


def test_a_text_that_says_other_than_was_asked_for_is_told_so() -> None:
    assert "overruled" in codes(read(f"4/4\n\n{PLAIN}", meter="2/2"))


def test_three_endings_are_all_played() -> None:
    reading = read("""
                   1.                2.                3.
1|-0--------------|-2--------------:|-3--------------:|-5--------------|
2|----------------|----------------:|----------------:|----------------|
3|----------------|-----------------|-----------------|----------------|
4|----------------|-----------------|-----------------|----------------|
5|----------------|-----------------|-----------------|----------------|
""")
    assert [fret for _, _, fret, *_ in notes(reading)] == [0, 2, 0, 3, 0, 5]


def test_a_quoted_mail_keeps_its_chords_and_fingers_in_place() -> None:
    quoted = "".join(f"> {line}\n" for line in ("   G       C", *PLAIN.splitlines(), "   T I T M T I T M"))
    passage = read("On Friday somebody wrote:\n" + quoted).passage
    assert [(c.onset, c.chord.name) for c in passage.changes if c.chord] == [(0, "G"), (960, "C")]
    assert "".join(n.finger or "-" for n in passage.notes) == "TITMTITM"


def test_rows_torn_apart_by_a_remark_are_a_fault() -> None:
    rows = PLAIN.splitlines()
    (fault,) = faults("\n".join([*rows[:3], "this is the hard bit", *rows[3:]]))
    assert (fault.code, fault.line) == ("rows-apart", 5)


def test_rules_of_dashes_around_a_staff_are_no_rows() -> None:
    assert notes(read(f"----------------\n{PLAIN}----------------\n")) == notes(read(PLAIN))


def test_a_measure_on_half_the_columns_of_the_others_is_said() -> None:
    wide = PLAIN.splitlines()
    narrow = ("---0----|", "-0------|", "0-------|", "----0---|", "--0-----|")
    text = "\n".join(row + more for row, more in zip(wide, narrow, strict=True))
    assert "closer-spacing" in codes(read(text))


@pytest.mark.parametrize("length", ["(99/1)", "(1/3)", "(0/4)", "(1/16)", "(1/0)"])
def test_a_length_that_no_measure_can_have_is_a_fault(length: str) -> None:
    (fault,) = faults(f"  {length}\n{PLAIN}")
    assert fault.code == "measure-too-short"
    assert length in said(fault)


def test_digits_that_come_to_lie_on_one_time_are_a_fault_and_no_silent_loss() -> None:
    found = faults("""\
1|----0--41---h|------4~----|
2|--h-~--------|------\\-=---|
3|--4----\\-h-1-|---------5--|
4|--------3----|-----x---5--|
5|---------3-h4|--1---p3----|
""")
    assert found
