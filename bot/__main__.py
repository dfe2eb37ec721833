"""The bot as a process of its own: ``python -m bot``, or ``breakwright bot``."""

import asyncio
import sys

from bot.settings import BotSettingsError, load_bot_settings

NEEDED = {
    "token": "the application's token, from the chat platform",
    "service_token": "a bot's token for the service: `breakwright token --role bot`",
}


def main() -> int:
    """The exit status: 0 after an orderly end, 2 where it cannot begin."""
    try:
        settings = load_bot_settings()
    except BotSettingsError as error:
        return _complain(str(error))
    for name, what in NEEDED.items():
        if not getattr(settings, name):
            return _complain(f"BREAKWRIGHT_BOT_{name.upper()} is not set: {what}")
    from bot.discord_side.running import run_bot

    try:
        return asyncio.run(run_bot(settings))
    except OSError as error:
        return _complain(f"cannot begin: {error.strerror or error}")


def _complain(text: str) -> int:
    print(f"breakwright bot: {text}", file=sys.stderr)
    return 2


if __name__ == "__main__":
    sys.exit(main())
