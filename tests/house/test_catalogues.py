"""The catalogues of translations: nothing missing, nothing left over, placeholders kept, compiled from what is read."""

import ast
import re
from pathlib import Path
from string import Formatter

import pytest
from babel.messages.pofile import read_po

from service.judge.left_hand import NAMES
from service.sentences import SENTENCES
from service.sentences.words import WORDS
from service.web.problems import TITLES
from service.wording import WORD, known_language, say
from tests.tools.make_catalogues import DOMAINS, LANGUAGES, Domain, mo_of, po_of, words_in

HOUSE = Path(__file__).resolve().parents[2]
SERVICE, BOT = DOMAINS
EVERYWHERE = {
    # nothing but places to be filled
    "{credit}", "{remark}", "{count}: {notes}", "{beat}", "{note}, {finger}", "{letter}", "{root}", "{instrument}, {tuning}",
    # counted so, and called so, by players of all three languages
    "e", "a", "Lick {lick}", "Break {code}", "C", "C (gCGBD)",
}  # fmt: skip
SAME_EVERYWHERE_IN_BOT = {
        "19:30", "C", "Europe/Berlin", "Wren banjo, Otter guitar, Kit fiddle learning", "break", "lick",
        "licks", "tempo", "2/2", "4/4", "2/4", "3/4", "6/8", "9/8", "12/8", "abc", "musicxml", "midi", "{tune} ({key}): {names}", "{unit} = {bpm}", "| G | C D |", "2 2 4",
}  # fmt: skip
SAME_IN_BOT = {
    "de": SAME_EVERYWHERE_IN_BOT
    | {
        "Instrument: {instrument}", "Loop", "Text", "Variation {number}: {name}", "challenge", "code",
        "instrument", "loop", "name", "phrase", "start", "text", "variation", "zone",
        "{instrument} in {tuning}", "{tune} in {key}", "Phrase {place}: {role}.",
    },
    "es": SAME_EVERYWHERE_IN_BOT
    | {
        "banjo", "boom-chuck", "break {code}", "bum-ditty", "chop", "drop D", "lick {number}", "no",
        "pinch", "sawmill", "vamp", "{id}: lick {lick}, {reason}",
    },
}  # fmt: skip
SAME = {
    "de": EVERYWHERE,
    "es": EVERYWHERE
    | {
        "break {code}", "banjo", "sawmill", "drop D", "sawmill (gDGCD)", "drop D (DADGBE)", "hammer-on", "pull-off", "slide",
        "break", "lick", "licks", "token", "vibrato", "Error", "vamp", "boom-chuck", "bum-ditty", "chop", "pinch",
    },
}  # fmt: skip


def _filled(text: str) -> list[tuple[str, str | None, str | None]]:
    """The places to be filled, each with its format."""
    return sorted((name, form, how) for _, name, form, how in Formatter().parse(text) if name is not None)


@pytest.fixture(params=LANGUAGES)
def language(request: pytest.FixtureRequest) -> str:
    found: str = request.param
    return found


def test_everything_said_is_translated_and_nothing_else_is_kept(language: str) -> None:
    with SERVICE.file(language, "po").open("rb") as file:
        kept = read_po(file)
    known = {(message.id, message.context): message for message in kept if message.id}
    said = {(text, None) for pair in SENTENCES.values() for text in pair if text}
    said |= {(word, WORD) for words in WORDS.values() for word in words}
    assert set(known) == said
    assert [message.id for message in known.values() if not message.string or message.fuzzy] == []
    assert dict(kept.obsolete) == {}
    # the codes beside the sentences are of today, too; long ones go on in another line
    assert {key: " ".join(message.auto_comments) for key, message in known.items()} == {
        (message.id, message.context): " ".join(message.auto_comments)
        for message in SERVICE.template()
        if message.id
    }


def test_all_that_the_bot_says_is_translated_and_nothing_else_is_kept(language: str) -> None:
    with BOT.file(language, "po").open("rb") as file:
        kept = read_po(file)
    known = {(message.id, message.context): message for message in kept if message.id}
    assert set(known) == set(BOT.words())
    assert [message.id for message in known.values() if not message.string or message.fuzzy] == []
    assert dict(kept.obsolete) == {}


@pytest.mark.parametrize("domain", DOMAINS, ids=lambda domain: domain.name)
def test_translations_keep_what_is_to_be_filled_in(domain: Domain, language: str) -> None:
    wrong = [
        message.id
        for message in domain.merged(language)
        if message.id and _filled(message.id) != _filled(message.string)
    ]
    assert wrong == []


def test_what_reads_as_in_english_is_known_to(language: str) -> None:
    assert _same(SERVICE, language) == SAME[language]
    assert _same(BOT, language) == SAME_IN_BOT[language]


def _same(domain: Domain, language: str) -> set[str]:
    return {message.id for message in domain.merged(language) if message.id and message.id == message.string}


@pytest.mark.parametrize("domain", DOMAINS, ids=lambda domain: domain.name)
def test_what_programs_read_is_compiled_from_what_translators_write(domain: Domain, language: str) -> None:
    assert domain.file(language, "mo").read_bytes() == mo_of(domain.merged(language))


def test_making_the_catalogues_anew_keeps_the_translations(tmp_path: Path) -> None:
    """What is no longer said goes, what is new comes without a translation, what stays keeps its own."""
    before = Domain("some", tmp_path, lambda: {("Gone.", None): ["gone"], ("Stays.", None): ["stays"]})
    path = before.file("de", "po")
    path.parent.mkdir(parents=True)
    path.write_bytes(
        po_of(before.merged("de")).replace(b'"Stays."\nmsgstr ""', b'"Stays."\nmsgstr "Bleibt."')
    )
    after = Domain("some", tmp_path, lambda: {("Stays.", None): ["stays"], ("New.", None): ["new"]})
    assert {message.id: message.string for message in after.merged("de") if message.id} == {
        "Stays.": "Bleibt.",
        "New.": "",
    }


def test_what_a_folder_says_is_found_in_its_code(tmp_path: Path) -> None:
    (tmp_path / "commands").mkdir()
    (tmp_path / "commands" / "votes.py").write_text(
        'TITLE = word("Votes")\n'
        "def shown(chat, text):\n"
        '    chat.say("No votes yet.")\n'
        '    say("One line, "\n        "in two pieces.", language)\n'
        "    say(text)\n"
        '    say(f"{text}")\n'
        "    say(3)\n"
        '    print("Not said.", say)\n'
    )
    (tmp_path / "again.py").write_text('say("No votes yet.")\n')
    assert words_in(tmp_path) == {
        ("No votes yet.", None): ["again.py", "commands/votes.py"],
        ("Votes", None): ["commands/votes.py"],
        ("One line, in two pieces.", None): ["commands/votes.py"],
    }


# --- words that are filled in --------------------------------------------------------------------------


def _given(name: str) -> set[str]:
    """The literals that are given to a parameter anywhere in the service."""
    found: set[str] = set()
    for path in (HOUSE / "service").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.keyword) and node.arg == name and isinstance(node.value, ast.Constant):
                found.add(node.value.value)
    return found


def test_words_of_closed_lists_are_all_there() -> None:
    states: set[str] = set()
    for path in (HOUSE / "service/store/migrations").glob("*.sql"):
        table = ""
        for line in path.read_text().splitlines():
            table = line.split()[2] if line.startswith("CREATE TABLE") else table
            inside = re.search(r"^\s*state TEXT NOT NULL CHECK \(state IN \((.*)\)\)", line)
            if inside and table != "posts":  # whose states no sentence names
                states.update(re.findall(r"'([a-z-]+)'", inside.group(1)))
    assert states == set(WORDS["state"])
    assert tuple(NAMES[1:]) == WORDS["finger"]
    assert {*TITLES.values(), "Error"} == set(WORDS["title"])
    assert {what for what in _given("what") if "." not in what} <= set(WORDS["what"])
    assert {reason for reason in _given("reason") if isinstance(reason, str)} <= set(WORDS["reason"])


@pytest.mark.parametrize(
    ("spoken", "said"),
    [
        ("en", "Its role is set-up; the phrase asks for: tag."),
        ("de", "Seine Rolle ist Vorbereitung; die Phrase verlangt: Schlusswendung."),
        ("de-AT", "Seine Rolle ist Vorbereitung; die Phrase verlangt: Schlusswendung."),
        ("es", "Su papel es preparación; la frase pide: remate."),
        ("eo", "Its role is set-up; the phrase asks for: tag."),
    ],
)
def test_words_are_said_in_the_language_of_their_sentence(spoken: str, said: str) -> None:
    assert say("role-differs", {"role": "set-up", "wished": "tag"}, spoken) == said


def test_a_word_is_one_only_where_it_is_meant() -> None:
    """An eighth is a note beside a tempo and a place in a row elsewhere; a tune may be called like a role."""
    assert say("top-tempo", {"unit": "eighth", "bpm": 90}, "de") == "Bequem bis Achtel = 90."
    assert say("ordinal-8", {}, "de") == "acht"
    assert say("no-group-yet", {"name": "tag"}, "de") == "Es gibt keine Gruppe namens tag."


def test_several_measures_are_listed_in_the_language() -> None:
    params = {"lick": 3, "changed": 2, "measures": "1 and 2"}
    assert say("near-twin", params, "en") == "This is lick 3, changed in measure 1 and 2. Notes changed: 2."
    assert (
        say("near-twin", params, "es")
        == "Este es el lick 3, cambiado en el compás 1 y 2; notas cambiadas: 2."
    )


def test_the_languages_are_known() -> None:
    assert [known_language(language) for language in (*LANGUAGES, "en", "fr")] == ["de", "es", "en", "en"]
