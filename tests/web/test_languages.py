"""German and Spanish over HTTP: errors, reasons, the read-out, sheets, posts."""

import re
from typing import Any

import httpx
import pytest

from service.web.problems import language_of
from tests.club import Club
from tests.support import RunningService
from tests.web.test_api import GROUP


def _get(demo: RunningService, path: str, language: str, **headers: str) -> httpx.Response:
    return demo.member.get(f"{GROUP}/{path}", headers={"Accept-Language": language, **headers})


@pytest.mark.parametrize(
    ("accept", "spoken"),
    [
        ("de", "de"),
        ("DE", "de"),
        ("de-AT", "de"),
        ("es-419", "es"),
        ("de-Latn-AT-1996", "de"),
        ("en-GB, de", "en"),
        ("fr, es;q=0.7, de;q=0.3", "es"),
        ("es;q=0.3,de;q=0.7", "de"),
        ("de ; q=0.2 , es ; q=0.9", "es"),
        ("es;q=0, de;q=0.001", "de"),
        ("es;q=0", "en"),
        ("fr, nl;q=0.5", "en"),
        ("*", "en"),
        ("fr, *;q=0.5, de;q=0.1", "en"),
        ("fr;q=0.9, de;q=0.8, *;q=0.1", "de"),
        ("den", "en"),
        ("d", "en"),
        ("", "en"),
        ("../de", "en"),
        ("de;q=2, es", "es"),
        (",;,de", "de"),
    ],
)
def test_the_language_liked_best_that_the_house_speaks_is_spoken(accept: str, spoken: str) -> None:
    assert language_of(accept) == spoken


@pytest.mark.parametrize(
    ("language", "title", "detail"),
    [
        ("de-AT", "Nicht gefunden", "Hier nicht gefunden: Lick. Sieh dir den Namen oder die Nummer an."),
        ("es-419", "No encontrado", "No se encuentra aquí: lick. Revisa el nombre o el número."),
        ("fr", "Not found", "There is no such lick here. Check the name or number."),
    ],
)
def test_an_error_is_in_the_language_and_says_which(
    demo: RunningService, language: str, title: str, detail: str
) -> None:
    answer = _get(demo, "licks/99999", language)
    found = answer.json()
    assert (found["title"], found["detail"], found["code"]) == (title, detail, "not-found")
    assert answer.headers["content-language"] == {"de-AT": "de", "es-419": "es", "fr": "en"}[language]
    assert answer.headers["vary"] == "accept-language"


def test_the_gate_speaks_the_language_too(demo: RunningService) -> None:
    with demo.client_with("nonsense") as stranger:
        answer = stranger.get(GROUP, headers={"Accept-Language": "de"})
    assert (answer.status_code, answer.headers["content-language"]) == (401, "de")
    assert answer.json()["detail"] == "Dieses Token gilt hier nicht. Bitte die Orga der Gruppe um ein neues."


def test_answers_without_words_name_no_language(demo: RunningService) -> None:
    answer = _get(demo, "tunes/heron-ferry", "de")
    assert (answer.status_code, answer.headers.get("content-language")) == (200, None)


def test_the_head_of_an_answer_names_the_language(demo: RunningService) -> None:
    answer = demo.member.head(f"{GROUP}/licks/14", headers={"Accept-Language": "es"})
    assert (answer.status_code, answer.headers["content-language"]) == (200, "es")


def _texts(found: Any) -> list[str]:
    """Every sentence of an answer."""
    if isinstance(found, list):
        return [text for each in found for text in _texts(each)]
    if not isinstance(found, dict):
        return []
    own = [found[name] for name in ("text", "advice") if "code" in found and found.get(name)]
    return own + [text for value in found.values() for text in _texts(value)]


@pytest.mark.parametrize(
    ("language", "patterns"),
    [
        (
            "de",
            (
                r"(Nur )?\d+ % von dem, was zählt, ist in (seinen|diesen) Akkorden zu Hause\.",
                r"Bequem bis Halbe = \d+",
                r"Er erinnert an \d+ % der Melodie, \d von \d Tönen auf starken Plätzen\.",
                r"Seine Rolle(, Eröffnung, ist die, die die Phrase verlangt)",
                r"Stufe 4 bei Halbe = \d+\.",
            ),
        ),
        (
            "es",
            (
                r"(El|Solo el) \d+ % de lo que cuenta está en casa en (sus|estos) acordes\.",
                r"Cómodo hasta blanca = \d+",
                r"Recuerda el \d+ % de la melodía, \d de \d notas en lugares fuertes\.",
                r"Su papel(, apertura, es el que pide la frase)",
                r"Nivel 4 a blanca = \d+\.",
            ),
        ),
    ],
)
def test_what_is_judged_of_a_lick_is_said_in_the_language(
    demo: RunningService, language: str, patterns: tuple[str, ...]
) -> None:
    path, over = f"{GROUP}/licks/14/judgements", {"tune": "heron-ferry", "phrase": 1}
    said = _texts(demo.member.post(path, json=over, headers={"Accept-Language": language}).json())
    plain = _texts(demo.member.post(path, json=over).json())
    assert [pattern for pattern in patterns if not any(re.match(pattern, text) for text in said)] == []
    assert len(said) == len(plain) > 5
    assert set(said) & set(plain) == set()


def test_params_stay_what_programs_know(demo: RunningService) -> None:
    asked = (_get(demo, "licks/14", language).json()["fit"]["reasons"] for language in ("de", "en"))
    german, english = asked
    assert german[0]["text"] != english[0]["text"]
    assert [(each["code"], each["params"]) for each in german] == [
        (each["code"], each["params"]) for each in english
    ]


@pytest.mark.parametrize(
    ("language", "lines"),
    [
        (
            "de",
            (
                "14 Sleeves rolled up, fünfsaitiges Banjo.",
                "Stimmung: Open G. Leere Saiten von der ersten an: D, B, G, D, G.",
                "Kapodaster in Bund zwei: Griffe in G-Dur klingen in A-Dur.",
                "Saite fünf ist in ihrem Bund sieben abgegriffen und klingt leer als A.",
                "Alla-breve-Takt, gezählt 1 e und a, 2 e und a.",
                "Tempo: 84 Schläge pro Minute, ein Schlag ist: Halbe.",
                "Länge: 2 Takte.",
                "Eine Bearbeitung kann eigene Rechte haben: teil sie dort, wo du darfst. Örtliche Regeln gehen vor.",
                "Auftakt: 2 e: Saite drei leer, Daumen; und: Saite drei, Hammer-on auf Bund zwei; a: Saite zwei leer, "
                "Zeigefinger.",
            ),
        ),
        (
            "es",
            (
                "14 Sleeves rolled up, banjo de cinco cuerdas.",
                "Afinación: G abierta. Cuerdas al aire desde la primera: D, B, G, D, G.",
                "Cejilla en el traste dos: las posiciones de G mayor suenan en A mayor.",
                "La cuerda cinco está fijada en su traste siete y suena A al aire.",
                "Compás partido, contado 1 e y a, 2 e y a.",
                "Tempo: 84 tiempos por minuto, cada uno es: blanca.",
                "Duración: 2 compases.",
                "Un arreglo puede tener derechos propios: compártelo donde puedas hacerlo. Las normas locales van primero.",
                "Anacrusa: la e de 2: cuerda tres al aire, pulgar; y: cuerda tres, hammer-on al traste dos; a: cuerda dos al "
                "aire, índice.",
            ),
        ),
    ],
)  # fmt: skip
def test_a_read_out_is_in_the_language(demo: RunningService, language: str, lines: tuple[str, ...]) -> None:
    told = _get(demo, "licks/14/read-out.txt?capo=2", language).text.splitlines()
    assert tuple(told[: len(lines)]) == lines


@pytest.mark.parametrize(
    ("language", "alt", "set_up"),
    [
        (
            "de",
            "14 Sleeves rolled up: Tabulatur (fünfsaitiges Banjo) in G-Dur, 2 Takte. Akkorde Takt für Takt: ",
            "Tonart G · fünfsaitiges Banjo, Open G (gDGBD) · fünfte Saite leer",
        ),
        (
            "es",
            "14 Sleeves rolled up: tablatura (banjo de cinco cuerdas) en G mayor, 2 compases. Acordes por compás: ",
            "tonalidad de G · banjo de cinco cuerdas, G abierta (gDGBD) · quinta cuerda al aire",
        ),
    ],
)
def test_a_sheet_and_its_description_are_in_the_language(
    demo: RunningService, language: str, alt: str, set_up: str
) -> None:
    assert _get(demo, "licks/14/alt.txt", language).text.startswith(alt)
    drawn = _get(demo, "licks/14/tab.svg", language).text
    assert set_up in drawn
    assert alt in drawn


def test_what_is_kept_of_one_language_is_not_taken_for_another(demo: RunningService) -> None:
    for what in ("read-out.txt", "alt.txt", "tab.svg", "sheet.pdf"):
        german = _get(demo, f"licks/14/{what}", "de")
        tag = german.headers["etag"]
        assert german.headers["vary"] == "accept-language"
        again = _get(demo, f"licks/14/{what}", "de;q=0.9", **{"If-None-Match": tag})
        assert (again.status_code, again.headers["vary"]) == (304, "accept-language"), what
        assert _get(demo, f"licks/14/{what}", "es", **{"If-None-Match": tag}).status_code == 200, what


def test_a_break_is_kept_ready_in_each_language(demo: RunningService) -> None:
    drawn = demo.member.post(f"{GROUP}/tunes/heron-ferry/breaks/random", json={"seed": 3, "max_level": 3})
    code = drawn.json()["code"]
    said = [_texts(_get(demo, f"breaks/{code}", language).json()) for language in ("de", "es", "de", "en")]
    assert said[0] == said[2]
    assert set(said[0]) & set(said[1]) == set(said[0]) & set(said[3]) == set()
    assert "Ein leichter Übergang." in said[0]


@pytest.mark.parametrize(
    ("language", "text"),
    [
        (
            "de",
            "Challenge 1: Heron Ferry, Teil A, Phrase 1 (Eröffnung), über | G | G |. Bis 2026-11-09 19:00 (Europe/Berlin).\n"
            "Ziel: Halbe = 60 bis {most}; geh erst nach sauberen Durchgängen höher.",
        ),
        (
            "es-MX",
            "Reto 1: Heron Ferry, parte A, frase 1 (apertura), sobre | G | G |. Hasta 2026-11-09 19:00 (Europe/Berlin).\n"
            "Apunta a blanca = 60 hasta {most}, y sube solo después de pasadas limpias.",
        ),
    ],
)
def test_a_post_is_in_the_language_of_its_group(club: Club, language: str, text: str) -> None:
    club.bind(draws=False)
    club.challenge()
    changed = club.organiser.patch(GROUP, json={"language": language}, headers={"If-Match": "*"})
    assert (changed.status_code, changed.json()["language"]) == (200, language)
    (post,) = club.claimed()
    assert post["text"] == text.format(most=post["params"]["goals"][-1][1])
