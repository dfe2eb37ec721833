from bot.api.client import GroupClient
from schemas.challenges import VariationOut


async def one_variation(here: GroupClient, number: str) -> VariationOut: ...
