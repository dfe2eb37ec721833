"""The API's description: OpenAPI 3.1, with schemas exactly as msgspec enforces them.

The framework's own schemas drop constraints on list items, so every component that is a message of
schemas/ is replaced by msgspec's.
"""

from collections.abc import Sequence
from importlib.metadata import version
from typing import Any

import msgspec
from litestar import Litestar, Request, Response, get
from litestar.openapi.config import OpenAPIConfig
from litestar.openapi.spec import Components, SecurityScheme

import schemas.arrangements
import schemas.base
import schemas.breaks
import schemas.challenges
import schemas.evenings
import schemas.groups
import schemas.imports
import schemas.instruments
import schemas.judgements
import schemas.leaving
import schemas.licks
import schemas.people
import schemas.practice
import schemas.readings
import schemas.reports
import schemas.sounds
import schemas.swap_table
import schemas.tunes
from service.web.gate import PUBLIC

_MODULES = (
    schemas.arrangements,
    schemas.base,
    schemas.breaks,
    schemas.challenges,
    schemas.evenings,
    schemas.groups,
    schemas.imports,
    schemas.instruments,
    schemas.judgements,
    schemas.leaving,
    schemas.licks,
    schemas.people,
    schemas.practice,
    schemas.readings,
    schemas.reports,
    schemas.sounds,
    schemas.swap_table,
    schemas.tunes,
)


_TOKEN = SecurityScheme(
    type="http",
    scheme="bearer",
    description="Who holds a bot's token says for whom it asks: `On-Behalf-Of: platform:user`, and `Acting-Server`, the id of the "
    "chat server they are on.",
)


def config() -> OpenAPIConfig:
    return OpenAPIConfig(
        title="Breakwright",
        version=version("breakwright"),
        description="A jam group's licks and tunes, and every break that can be made of them.",
        security=[{"token": []}],
        components=Components(security_schemes={"token": _TOKEN}),
        use_handler_docstrings=False,
    )


def messages() -> dict[str, type[msgspec.Struct]]:
    """Every message of schemas/ by name."""
    found: dict[str, type[msgspec.Struct]] = {}
    for module in _MODULES:
        for name, value in vars(module).items():
            if (
                isinstance(value, type)
                and issubclass(value, msgspec.Struct)
                and value.__module__ == module.__name__
            ):
                found[name] = value
    return found


def described(routes: Sequence[Any]) -> dict[str, Any]:
    """The whole description of these routes as JSON data.

    It is made by an application that serves nothing: the framework's own pages would come along with it.
    """
    described_api = Litestar(
        list(routes), openapi_config=config(), logging_config=None
    ).openapi_schema.to_schema()
    components = described_api["components"]["schemas"]
    _, exact = msgspec.json.schema_components(
        tuple(messages().values()), ref_template="#/components/schemas/{name}"
    )
    components.update(exact)
    for path in PUBLIC & set(described_api["paths"]):
        for operation in described_api["paths"][path].values():
            operation["security"] = []  # the framework leaves an empty list out
    return described_api


@get("/schema/openapi.json", include_in_schema=False)
async def schema(request: Request[Any, Any, Any]) -> Response[bytes]:
    state = request.app.state
    if "described" not in state:
        state["described"] = msgspec.json.encode(described(state["routes"]))
    return Response(state["described"], media_type="application/vnd.oai.openapi+json")
