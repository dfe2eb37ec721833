"""The chat library alone, as a process: it defers whatever it is asked and answers "ok"; the bot's baseline.

It comes to the stand-in of the environment, as the bot does.
"""

import os

import discord
import yarl


class Bare(discord.Client):
    async def on_interaction(self, interaction: "discord.Interaction[Bare]") -> None:
        if interaction.type is discord.InteractionType.autocomplete:
            await interaction.response.autocomplete([])
            return
        await interaction.response.defer(thinking=True)
        await interaction.followup.send("ok")


if __name__ == "__main__":
    discord.http.Route.BASE = os.environ["BREAKWRIGHT_BOT_REST"]
    discord.gateway.DiscordWebSocket.DEFAULT_GATEWAY = yarl.URL(os.environ["BREAKWRIGHT_BOT_GATEWAY"])
    Bare(intents=discord.Intents(guilds=True)).run(os.environ["BREAKWRIGHT_BOT_TOKEN"], log_handler=None)
