"""Every sentence the service shows to people, by code, in English: gettext message ids."""

from service.sentences import judging, music, reading, running, sheets, sounding

SENTENCES = {
    **reading.SENTENCES,
    **music.SENTENCES,
    **running.SENTENCES,
    **judging.SENTENCES,
    **sheets.SENTENCES,
    **sounding.SENTENCES,
}
