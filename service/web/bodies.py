"""Bodies of requests, read as strictly as the description says."""

from dataclasses import dataclass
from functools import cache
from typing import Any

import msgspec
from litestar import Request
from litestar.exceptions import ValidationException
from litestar.openapi.spec import OpenAPIMediaType, Operation, RequestBody, Schema
from litestar.openapi.spec.enums import OpenAPIFormat, OpenAPIType


def sent_as(media: str, description: str) -> type[Operation]:
    """How an operation is described whose body is a file, which is read by hand."""

    @dataclass
    class Described(Operation):
        def __post_init__(self) -> None:
            binary = Schema(type=OpenAPIType.STRING, format=OpenAPIFormat.BINARY)
            content = {media: OpenAPIMediaType(schema=binary)}
            self.request_body = RequestBody(required=True, description=description, content=content)

    return Described


@cache
def _decoder(annotation: Any) -> msgspec.json.Decoder[Any]:
    return msgspec.json.Decoder(annotation)


class StrictRequest(Request[Any, Any, Any]):
    """JSON becomes the message a route asks for at once. The framework would let "5" pass for 5 and 0 for false: it reads
    bodies as it reads queries, where everything is text."""

    async def json(self) -> Any:
        field = self.route_handler.parsed_data_field
        if field is None:
            return await super().json()
        try:
            return _decoder(field.annotation).decode(await self.body() or b"null")
        except msgspec.ValidationError as error:
            raise ValidationException(extra=[{"message": str(error), "key": "data"}]) from error
        except msgspec.DecodeError:
            return await super().json()  # no JSON at all: refused as the framework does
