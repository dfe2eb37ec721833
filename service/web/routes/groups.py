"""Groups."""

from litestar import Response, get, patch, post, put
from litestar.params import FromPath, JSONBody

from schemas.groups import GroupIn, GroupList, GroupOut, GroupPatch, SettingsIn, SettingsOut
from service.clock import stamp
from service.groups.weeks import next_slot
from service.store.groups import GroupRow
from service.usecases import groups as usecases
from service.usecases.group_settings import GroupSettings, settings_of, slot_of
from service.usecases.house import House
from service.usecases.identify import reach_group
from service.web.parts import (
    PAGE,
    Asked,
    Cursor,
    IdempotencyKey,
    IfMatch,
    Limit,
    caller_of,
    etag,
    house_of,
    page,
    problems,
    read_cursor,
    repeatable,
    revision_from,
)
from service.web.show import group_out


def _made(row: GroupRow) -> tuple[GroupOut, int, dict[str, str]]:
    return group_out(row), 201, {**etag(row.revision), "location": f"/v1/groups/{row.slug}"}


@post("/v1/groups", tags=["groups"], summary="Make a group", responses=problems(409, 422, 503))
async def make(
    request: Asked, data: JSONBody[GroupIn], idempotency_key: IdempotencyKey = None
) -> Response[GroupOut]:
    wanted = GroupRow(
        0,
        data.slug,
        data.name,
        data.instrument,
        data.tuning,
        data.language,
        data.platform,
        data.server_id,
        1,
        0,
    )
    return await repeatable(
        request,
        idempotency_key,
        _made,
        lambda once: usecases.make_group(house_of(request), caller_of(request), wanted, once),
    )


@get("/v1/groups", tags=["groups"], summary="All groups (operator)", responses=problems())
async def every(request: Asked, limit: Limit = PAGE, cursor: Cursor = None) -> Response[GroupList]:
    found = usecases.read_groups(house_of(request), caller_of(request), read_cursor(cursor), limit + 1)
    shown, following, headers = page(request, found, limit, lambda row: row.slug)
    return Response(GroupList(items=[group_out(row) for row in shown], next=following), headers=headers)


@get("/v1/groups/{group:str}", tags=["groups"], summary="One group", responses=problems())
async def one(request: Asked, group: FromPath[str]) -> Response[GroupOut]:
    row = reach_group(house_of(request), caller_of(request), group, "read-group")
    return Response(group_out(row), headers=etag(row.revision))


@patch(
    "/v1/groups/{group:str}",
    tags=["groups"],
    summary="Change a group",
    responses=problems(412, 422, 428, 503),
)
async def change(
    request: Asked, group: FromPath[str], data: JSONBody[GroupPatch], if_match: IfMatch = None
) -> Response[GroupOut]:
    house, caller = house_of(request), caller_of(request)
    revision = revision_from(if_match, lambda: reach_group(house, caller, group, "change-group").revision)
    wanted = {name: value for name in data.__struct_fields__ if (value := getattr(data, name)) is not None}
    row = await usecases.change_group(house, caller, group, revision, wanted)
    return Response(group_out(row), headers=etag(row.revision))


def _settings_out(house: House, row: GroupRow) -> SettingsOut:
    settings = settings_of(row)
    return SettingsOut(
        **{name: getattr(settings, name) for name in settings.__struct_fields__},
        week_begins=stamp(next_slot(slot_of(settings), house.clock())),
        revision=row.revision,
    )


@get(
    "/v1/groups/{group:str}/settings",
    tags=["groups"],
    summary="What a group has chosen",
    responses=problems(),
)
async def settings(request: Asked, group: FromPath[str]) -> Response[SettingsOut]:
    house = house_of(request)
    row = reach_group(house, caller_of(request), group, "read-group")
    return Response(_settings_out(house, row), headers=etag(row.revision))


@put(
    "/v1/groups/{group:str}/settings",
    tags=["groups"],
    summary="Choose anew",
    responses=problems(412, 422, 428, 503),
)
async def choose(
    request: Asked, group: FromPath[str], data: JSONBody[SettingsIn], if_match: IfMatch = None
) -> Response[SettingsOut]:
    house, caller = house_of(request), caller_of(request)
    revision = revision_from(if_match, lambda: reach_group(house, caller, group, "change-group").revision)
    wanted = GroupSettings(**{name: getattr(data, name) for name in data.__struct_fields__})
    row = await usecases.change_settings(house, caller, group, revision, wanted)
    return Response(_settings_out(house, row), headers=etag(row.revision))


ROUTES = [make, every, one, change, settings, choose]
