"""Every sentence the service shows to people, by code, in English: gettext message ids."""

from service.sentences import (
    arranging,
    caring,
    evenings,
    judging,
    leaving,
    music,
    people,
    reading,
    reading_out,
    running,
    sheets,
    sounding,
    tune_files,
    weekly,
)

SENTENCES = {
    **arranging.SENTENCES,
    **reading.SENTENCES,
    **music.SENTENCES,
    **running.SENTENCES,
    **judging.SENTENCES,
    **reading_out.SENTENCES,
    **sheets.SENTENCES,
    **sounding.SENTENCES,
    **people.SENTENCES,
    **weekly.SENTENCES,
    **caring.SENTENCES,
    **evenings.SENTENCES,
    **leaving.SENTENCES,
    **tune_files.SENTENCES,
}
