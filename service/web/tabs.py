"""Tab as an answer: two layouts, any width."""

from collections.abc import Mapping
from typing import Annotated, Literal

from litestar import Response
from litestar.params import QueryParameter

from service.music.passages import Passage
from service.notation.tab_writer import PHONE_WIDTH, WIDE_WIDTH, LeftFingers, write_tab

Layout = Annotated[
    Literal["phone", "wide"],
    QueryParameter(
        name="layout", description="phone: one measure a row group, 28 columns; wide: as many as fit."
    ),
]
Width = Annotated[
    int | None, QueryParameter(name="width", ge=PHONE_WIDTH, le=1000, description="Columns a line may take.")
]
HandsShown = Annotated[
    Literal["right", "both"],
    QueryParameter(
        name="hands", description="right: picking fingers; both: left-hand fingers too, after an L."
    ),
]


def tab_answer(
    passage: Passage,
    layout: str,
    width: int | None,
    left: LeftFingers | None = None,
    remarks: Mapping[int, str] | None = None,
) -> Response[str]:
    usual = PHONE_WIDTH if layout == "phone" else WIDE_WIDTH
    text = write_tab(passage, width=width or usual, phone=layout == "phone", left=left, remarks=remarks)
    return Response(text, media_type="text/plain")
