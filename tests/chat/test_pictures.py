"""The README's pictures of the chat show what the bot answers now."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from skimage.metrics import structural_similarity

from tests.chat.corner import running_corner
from tests.chat_platform.wire import Channel, Message, Person
from tests.tools.make_chat_pictures import WORDS, Sheet, draw
from tests.tools.make_examples import PICTURES

LIKE = 0.98  # structural similarity; ours: sees a frame, button or staff that moved. Words are compared by themselves


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pictures")
    with running_corner(tmp_path_factory.mktemp("corner")) as corner:
        draw(corner, folder)
    return folder


@pytest.mark.parametrize("name", ["chat-break", "chat-challenge", "chat-mending", "chat-round-up"])
def test_a_picture_of_the_readme_is_what_comes_now(drawn: Path, name: str) -> None:
    now, kept = (Image.open(folder / f"{name}.png") for folder in (drawn, PICTURES))
    assert now.info[WORDS] == kept.info[WORDS]
    assert now.size == kept.size
    grey = [np.asarray(picture.convert("L")) for picture in (now, kept)]
    assert structural_similarity(*grey) > LIKE


def test_what_the_fonts_have_no_letter_for_is_said_instead_of_drawn_as_a_box() -> None:
    author = Person(1, "Wren")
    message = Message(2, Channel(3, "jam"), author, "Ferry \N{SNOWMAN}")
    with pytest.raises(ValueError, match="the fonts have no \N{SNOWMAN}"):
        Sheet().message("Wren", message)
