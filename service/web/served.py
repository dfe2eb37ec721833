"""Files as answers: entity tags, ranges, and headers that keep what is private private."""

import re

from litestar import Request, Response

from service.errors import DomainError

CACHING = "private, no-cache"  # kept by the asker's own machine, and asked about each time
# An SVG that is opened by itself may do nothing but be looked at.
SVG_POLICY = "default-src 'none'; style-src 'unsafe-inline'; font-src data:; sandbox"
_RANGE = re.compile(r"bytes=([0-9]{0,15})-([0-9]{0,15})$")  # no file has more bytes than that


MEDIA_TYPES = {
    "svg": "image/svg+xml",
    "png": "image/png",
    "pdf": "application/pdf",
    "mid": "audio/midi",
    "musicxml": "application/vnd.recordare.musicxml+xml",
    "mp3": "audio/mpeg",
    "ogg": "audio/ogg",
    "flac": "audio/flac",
    "wav": "audio/wav",
    "txt": "text/plain",
    "abc": "text/vnd.abc",
}


def not_modified(request: "Request", key: str) -> Response[bytes] | None:  # type: ignore[type-arg]
    """304 where the asker has this very thing already."""
    sent = request.headers.get("if-none-match", "")
    tags = {tag.strip().removeprefix("W/") for tag in sent.split(",")}
    if f'"{key}"' in tags or "*" in tags:
        return Response(b"", status_code=304, headers=_caching(f'"{key}"'))
    return None


def _caching(tag: str) -> dict[str, str]:
    return {"etag": tag, "cache-control": CACHING, "x-content-type-options": "nosniff"}


def file_answer(
    request: "Request",  # type: ignore[type-arg]
    body: bytes,
    suffix: str,
    name: str,
    key: str,
    more: dict[str, str] | None = None,
) -> Response[bytes]:
    """A file, or the part of it that a Range asks for. Raises DomainError ``bad-range``."""
    # the same sound as Vorbis has other bytes each time it is made
    tag = f'W/"{key}"' if suffix == "ogg" else f'"{key}"'
    headers = {
        **_caching(tag),
        "accept-ranges": "bytes",
        "content-disposition": f'inline; filename="{name}.{suffix}"',
        **(more or {}),
    }
    if suffix == "svg":
        headers["content-security-policy"] = SVG_POLICY
    return _whole_or_part(request, body, MEDIA_TYPES[suffix], tag, headers)


def bytes_answer(
    request: "Request",  # type: ignore[type-arg]
    body: bytes,
    media: str,
    name: str,
    key: str,
) -> Response[bytes]:
    """Bytes that somebody sent in, to be saved or played, never to be opened as a page. Raises DomainError ``bad-range``."""
    tag = f'"{key}"'
    headers = {
        **_caching(tag),
        "accept-ranges": "bytes",
        "content-disposition": f'attachment; filename="{name}"',
        "content-security-policy": "sandbox",
    }
    return not_modified(request, key) or _whole_or_part(request, body, media, tag, headers)


def _whole_or_part(
    request: "Request",  # type: ignore[type-arg]
    body: bytes,
    media: str,
    tag: str,
    headers: dict[str, str],
) -> Response[bytes]:
    wanted = _wanted(request, len(body), tag)
    if wanted is None:
        return Response(body, media_type=media, headers=headers)
    first, last = wanted
    headers["content-range"] = f"bytes {first}-{last}/{len(body)}"
    return Response(body[first : last + 1], status_code=206, media_type=media, headers=headers)


def _wanted(request: "Request", length: int, tag: str) -> tuple[int, int] | None:  # type: ignore[type-arg]
    """First and last byte of a single range; None for the whole, also where several ranges are asked for."""
    match = _RANGE.match(request.headers.get("range", "").replace(" ", ""))
    if match is None or match.group(0) == "bytes=-":
        return None
    only_if = request.headers.get("if-range")
    if only_if is not None and (only_if.strip() != tag or tag.startswith("W/")):
        return None
    start, end = match.groups()
    if start:
        first, last = int(start), min(int(end), length - 1) if end else length - 1
    else:
        first, last = max(0, length - int(end)), length - 1
    if start and end and int(start) > int(end):
        return None
    if first > last or first >= length:
        raise DomainError("bad-range", length=length)
    return first, last
