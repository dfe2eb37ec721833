"""The bot's whole life: connections made anew for as long as it runs, health, an orderly end."""

import asyncio
import contextlib
import logging
import signal
from collections.abc import Callable

import aiohttp
import discord
import yarl

from bot.api.client import Client
from bot.commands.book import book
from bot.discord_side.announcer import Announcer
from bot.discord_side.corner import Corner
from bot.discord_side.health import Health, serve_health
from bot.front import Front
from bot.logs import start_logs
from bot.settings import BotSettings

log = logging.getLogger("breakwright.bot")
AGAIN_S, LONGEST_WAIT_S = 1.0, 60.0  # before a connection that ended is made anew, doubled each time; ours
STEADY_S = 120.0  # a connection that held so long was a good one: the next wait is short again; ours


class NotWanted(Exception):
    """The platform does not take us as we are; trying again would not help."""


async def run_bot(settings: BotSettings) -> int:
    """Until it is told to end by a signal; the exit status."""
    start_logs(settings.log_level)
    redirect(settings)
    ending = asyncio.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        asyncio.get_running_loop().add_signal_handler(number, ending.set)

    def told(port: int) -> None:
        print(f"Health at http://{settings.health_host}:{port}/health/ready", flush=True)

    return await run_until(settings, ending, told)


async def run_until(settings: BotSettings, ending: asyncio.Event, health_at: Callable[[int], None]) -> int:
    """Until ``ending`` is set, or the platform does not want us; the exit status. ``health_at`` hears the port."""
    health = Health()
    port, stop_health = await serve_health(health, settings.health_host, settings.health_port)
    health_at(port)
    try:
        async with Client(settings.service, settings.service_token) as service:
            return await _supervised(settings, Front(service, book()), health, ending)
    finally:
        await stop_health()


def redirect(settings: BotSettings) -> None:
    """Another address than the platform's own, for the whole process."""
    discord.VoiceClient.warn_nacl = discord.VoiceClient.warn_dave = (
        False  # we send files, and speak to nobody
    )
    if settings.rest:
        discord.http.Route.BASE = settings.rest
    if settings.gateway:
        discord.gateway.DiscordWebSocket.DEFAULT_GATEWAY = yarl.URL(settings.gateway)


async def _supervised(settings: BotSettings, front: Front, health: Health, ending: asyncio.Event) -> int:
    """A client that failed is of no further use: each connection gets one of its own."""
    wait, clock = AGAIN_S, asyncio.get_running_loop().time
    while not ending.is_set():
        begun = clock()
        try:
            await _connected(settings, front, health, ending)
        except NotWanted as error:
            log.error("the chat platform refuses the bot", extra={"reason": str(error)})
            return 2
        except Exception as error:
            log.warning("the connection ended", extra={"reason": f"{type(error).__name__}: {error}"})
        health.all_disconnected()
        if ending.is_set():
            break
        wait = AGAIN_S if clock() - begun > STEADY_S else wait
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(ending.wait(), wait)
        wait = min(2 * wait, LONGEST_WAIT_S)
    return 0


async def _connected(settings: BotSettings, front: Front, health: Health, ending: asyncio.Event) -> None:
    """One connection, until it ends or is told to."""
    corner = Corner(front, settings, health)
    async with corner:
        announcing = asyncio.create_task(
            Announcer(corner, front.client, front.book, health, settings).run(), name="announcing"
        )
        talking = asyncio.create_task(corner.start(settings.token), name="talking")
        told = asyncio.create_task(ending.wait(), name="ending")
        try:
            await asyncio.wait((talking, told), return_when=asyncio.FIRST_COMPLETED)
            await corner.finish()
        finally:
            for task in (announcing, told):
                task.cancel()
            await asyncio.gather(announcing, told, return_exceptions=True)
            if not talking.done():
                await corner.close()
        try:
            await talking
        except discord.LoginFailure as error:
            raise NotWanted("its token is not known there") from error
        except discord.PrivilegedIntentsRequired as error:
            raise NotWanted("it asks for more than it may see") from error
        except aiohttp.ClientError as error:
            raise ConnectionError(str(error)) from error
