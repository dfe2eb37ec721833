"""The chat's side: the book of commands shown through discord.py, and posts brought into channels."""
