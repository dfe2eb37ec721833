from bot.replies import Reply
from schemas.challenges import PostOut


def reply_of(post: PostOut) -> Reply: ...
