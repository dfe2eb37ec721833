"""Files: kinds, sizes, limits."""

import io
from itertools import pairwise

import av
import numpy as np
import pytest
import soundfile

from service.errors import DomainError
from service.music.timeline import work_up_tempos
from service.sound import encoding
from service.sound.encoding import KINDS, SoundFile, encoded
from service.sound.playing import Sound
from tests.sound.hearing import RATE, decibels, decoded, passage, sounded

LICK = "3.2 /4 5 1 3251, 4.2 2.1 5 1.2 4.2 2.1 5 1.2; 4 4.h2 5 1 3.3 p2 5 1; 3251 (15)---"


def _work_up() -> Sound:
    return sounded(passage(LICK), rounds=work_up_tempos(90, 120, 10, 2), count_in=2, click=True)


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_decodes_to_what_was_played(kind: str) -> None:
    sound = sounded(passage(LICK), rounds=(84,), stereo=True)
    played = sound.samples().T.astype(np.float64)
    (file,) = encoded(sound, kind)
    heard = decoded(file.data)
    assert file.suffix == f".{kind}"
    length = min(heard.shape[1], sound.length)
    assert abs(heard.shape[1] - sound.length) < 0.003 * RATE
    noise = decibels((heard[:, :length] - played[:, :length]).ravel()) - decibels(played.ravel())
    assert noise < (-15 if kind in ("mp3", "ogg") else -60)


def test_the_library_that_wrote_a_file_reads_it_too() -> None:
    (file,) = encoded(sounded(passage(LICK)), "mp3")
    with soundfile.SoundFile(io.BytesIO(file.data)) as read:
        assert (read.format, read.samplerate, read.channels) == ("MP3", 44_100, 1)


@pytest.mark.parametrize("kind", KINDS)
def test_a_file_carries_its_title_for_whatever_plays_it(kind: str) -> None:
    (file,) = encoded(sounded(passage(LICK)), kind, title="Gate at Low Water, früh")
    with av.open(io.BytesIO(file.data)) as container:
        told = {
            name.lower(): text
            for name, text in (*container.metadata.items(), *container.streams[0].metadata.items())
        }
    assert told["title"] == "Gate at Low Water, früh"


def test_a_minute_of_mp3_is_half_a_megabyte_at_most() -> None:
    sound = _work_up()
    (file,) = encoded(sound)
    assert len(file.data) / float(sound.seconds) * 60 < 500 * 1024


@pytest.mark.parametrize("kind", ["mp3", "flac", "wav"])
def test_the_same_sound_gives_the_same_bytes(kind: str) -> None:
    one, other = (encoded(sounded(passage(LICK)), kind)[0].data for _ in range(2))
    assert one == other


def _whole(files: tuple[SoundFile, ...], sound: Sound, limit: int) -> None:
    """Nothing is missing, nothing comes twice, nothing is too large."""
    assert all(len(file.data) <= limit for file in files)
    assert (files[0].start, files[-1].stop) == (0, sound.length)
    assert all(a.stop == b.start for a, b in pairwise(files))


def test_a_limit_is_kept_by_a_lower_quality_first() -> None:
    sound = _work_up()
    best = len(encoded(sound)[0].data)
    limit = round(best * 0.85)
    files = encoded(sound, "mp3", limit)
    assert len(files) == 1
    _whole(files, sound, limit)


def test_what_does_not_go_in_is_cut_where_rounds_begin() -> None:
    sound = _work_up()
    limit = 120 * 1024
    files = encoded(sound, "mp3", limit)
    assert len(files) > 1
    _whole(files, sound, limit)
    starts = {mark.start for mark in sound.marks}
    assert all(any(0 < start - file.start < 0.02 * RATE for start in starts) for file in files[1:])
    assert files[0].rounds[0] == 1
    assert all(a.rounds[1] + 1 == b.rounds[0] for a, b in pairwise(files))
    assert files[-1].rounds[1] == len(sound.marks)


def test_one_long_round_is_cut_at_bar_lines() -> None:
    text = "3251 4251, 3251 4251" + "; 3251 4251" * 10
    sound = sounded(passage(text), rounds=(60,))
    limit = 70 * 1024
    files = encoded(sound, "mp3", limit)
    assert len(files) > 1
    _whole(files, sound, limit)
    assert all(any(0 < bar - f.start < 0.02 * RATE for bar in sound.timeline.bars) for f in files[1:])


@pytest.mark.parametrize("kind", ["ogg", "flac", "wav"])
def test_other_kinds_keep_a_limit_too(kind: str) -> None:
    sound = sounded(passage(LICK), rounds=(84,) * 2)
    files = encoded(sound, kind, 200 * 1024)
    _whole(files, sound, 200 * 1024)


def test_the_least_limit_is_kept_even_by_the_largest_kind() -> None:
    sound = sounded(passage("3-------, 3-------"), stereo=True)
    _whole(encoded(sound, "wav", encoding.LEAST_LIMIT_BYTES), sound, encoding.LEAST_LIMIT_BYTES)


def test_a_cut_makes_no_click() -> None:
    sound = _work_up()
    files = encoded(sound, "wav", 2 * 2**20)
    assert len(files) > 1
    for file in files[1:]:
        heard = decoded(file.data)[0]
        assert abs(heard[0]) < 0.01
    assert abs(decoded(files[0].data)[0][-1]) < 0.01


def test_a_first_stroke_after_a_cut_is_whole() -> None:
    sound = sounded(passage("3251 4251, 3251 4251; 3251 4251"), rounds=(60,) * 4)
    second = encoded(sound, "wav", 1_500_000)[1]
    at = next(m.start for m in sound.marks if m.start > second.start) - second.start
    played = sound.samples()[second.start + at : second.start + at + 1000]
    assert np.allclose(decoded(second.data)[0][at : at + 1000], played, atol=1e-3)


def test_what_cannot_be_written_is_refused() -> None:
    sound = sounded(passage(LICK))
    for kind, limit, code in (("mid", None, "unknown-sound-file"), ("mp3", 1000, "limit-too-small")):
        with pytest.raises(DomainError) as caught:
            encoded(sound, kind, limit)
        assert caught.value.code == code
