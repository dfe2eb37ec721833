"""Pictures, sheets, files for other programs, and sound of licks, variations, breaks and loops."""

from typing import Annotated

from litestar import Response, get
from litestar.di import NamedDependency, Provide
from litestar.params import FromPath, PathParameter, SkipValidation

from service.web.files import FILES, Ask, answer
from service.web.options import Drawing, Sounding, drawing_of, sounding_of
from service.web.parts import Asked, caller_of, house_of, language, problems
from service.web.routes.breaks import Code
from service.web.routes.judgements import PhraseNumber
from service.web.routes.licks import LickNumber
from service.web.routes.outbox import PostId
from service.web.routes.variations import VariationNumber
from service.web.subjects import break_subject, lick_subject, loop_subject, post_subject, variation_subject

OPTIONS = {
    "drawing": Provide(drawing_of, sync_to_thread=False),
    "sounding": Provide(sounding_of, sync_to_thread=False),
}
What = Annotated[str, PathParameter(description=f"One of {', '.join(FILES)}.")]
Drawn = NamedDependency[SkipValidation[Drawing]]
Sounded = NamedDependency[SkipValidation[Sounding]]


@get(
    "/v1/groups/{group:str}/licks/{lick_number:int}/{what:str}",
    tags=["files"],
    summary="A lick as picture, sheet, sound or a file for other programs",
    dependencies=OPTIONS,
    media_type="application/octet-stream",
    responses=problems(422, 451, 503),
)
async def of_lick(
    request: Asked,
    group: FromPath[str],
    lick_number: LickNumber,
    what: What,
    drawing: Drawn,
    sounding: Sounded,
) -> Response[bytes]:
    shown, load = lick_subject(
        house_of(request), caller_of(request), group, lick_number, language(request), drawing.tempo
    )
    return await answer(Ask(request, shown, what, drawing, sounding, load))


@get(
    "/v1/groups/{group:str}/variations/{variation:int}/{what:str}",
    tags=["files"],
    summary="A variation as picture, sheet, sound or a file for other programs",
    dependencies=OPTIONS,
    media_type="application/octet-stream",
    responses=problems(409, 422, 451, 503),
)
async def of_variation(
    request: Asked,
    group: FromPath[str],
    variation: VariationNumber,
    what: What,
    drawing: Drawn,
    sounding: Sounded,
) -> Response[bytes]:
    shown, load = variation_subject(
        house_of(request), caller_of(request), group, variation, language(request), drawing.tempo
    )
    return await answer(Ask(request, shown, what, drawing, sounding, load))


@get(
    "/v1/groups/{group:str}/breaks/{code:str}/{what:str}",
    tags=["files"],
    summary="A break as picture, sheet, sound or a file for other programs",
    dependencies=OPTIONS,
    media_type="application/octet-stream",
    responses=problems(422, 503),
)
async def of_break(
    request: Asked, group: FromPath[str], code: Code, what: What, drawing: Drawn, sounding: Sounded
) -> Response[bytes]:
    shown, load = break_subject(
        house_of(request), caller_of(request), group, code, language(request), drawing.tempo, drawing.hide
    )
    return await answer(Ask(request, shown, what, drawing, sounding, load))


@get(
    "/v1/groups/{group:str}/breaks/{code:str}/loops/{phrase:int}/{what:str}",
    tags=["files"],
    summary="A phrase of a break after the one before it, round and round",
    dependencies=OPTIONS,
    media_type="application/octet-stream",
    responses=problems(422, 503),
)
async def of_loop(
    request: Asked,
    group: FromPath[str],
    code: Code,
    phrase: PhraseNumber,
    what: What,
    drawing: Drawn,
    sounding: Sounded,
) -> Response[bytes]:
    shown, load = loop_subject(
        house_of(request), caller_of(request), group, code, phrase, language(request), drawing.tempo
    )
    return await answer(Ask(request, shown, what, drawing, sounding, load))


@get(
    "/v1/outbox/{post_id:int}/{what:str}",
    tags=["outbox"],
    summary="The lick or variation that a claimed post is about, as a file (bot)",
    dependencies=OPTIONS,
    media_type="application/octet-stream",
    responses=problems(409, 422, 451, 503),
)
async def of_post(
    request: Asked, post_id: PostId, what: What, drawing: Drawn, sounding: Sounded
) -> Response[bytes]:
    shown, load = post_subject(
        house_of(request), caller_of(request), post_id, language(request), drawing.tempo
    )
    return await answer(Ask(request, shown, what, drawing, sounding, load))


ROUTES = [of_post, of_lick, of_variation, of_break, of_loop]
