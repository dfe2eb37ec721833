from bot.asks import Visitor
from bot.front import Front
from bot.replies import Call


async def choices(front: Front, call: Call, focused: str, visitor: Visitor) -> list[tuple[str, str]]: ...
