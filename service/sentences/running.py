"""What is said of requests and of the service itself."""

# code: (what is the matter, what to do); the second may be empty
SENTENCES: dict[str, tuple[str, str]] = {
    # the service
    "no-token": (
        "This needs a token.",
        "Send it as Authorization: Bearer TOKEN; breakwright token makes one.",
    ),
    "bad-token": ("That token is not valid here.", "Ask the group's organiser for a new one."),
    "not-allowed": ("You may not do this here.", "Ask an organiser."),
    "renders-busy": ("Too many pictures and sounds are being made just now.", "Try again in a few seconds."),
    "not-found": ("There is no such {what} here.", "Check the name or number."),
    "taken-down": (
        "Lick {lick} was taken down.",
        "Use another one; an organiser of the group can read why.",
    ),
    "not-taken-down": ("Lick {lick} is not taken down.", ""),
    "no-group-yet": (
        "There is no group called {name}.",
        "Make it first with POST /v1/groups, then ask for the token again.",
    ),
    "no-route": ("There is nothing at this address.", "See /schema/openapi.json for what there is."),
    "no-method": ("This address does not take that method.", "See /schema/openapi.json for what it takes."),
    "exists": (
        "There is already a {what} called {name}.",
        "Choose another name, or change the one there is.",
    ),
    "server-bound": (
        "That server belongs to another group already.",
        "Leave platform and server_id out, or use that group.",
    ),
    "unknown-style": ("“{style}” is no style.", "Use one of {known}."),
    "unsupported-type": (
        "The body is sent as {type}.",
        "Send JSON, with Content-Type: application/json; where a zip is wanted, application/zip.",
    ),
    "not-ready": ("The service is not ready.", "Try again in {retry_after} s."),
    "storage-trouble": (
        "The database cannot be used just now.",
        "Try again in {retry_after} s; whoever runs the service finds the cause in its log.",
    ),
    "changed": (
        "It has been changed since you read it: revision {revision} is the newest.",
        "Read it again and repeat your change.",
    ),
    "if-match-needed": (
        "An edit must say which revision it was made from.",
        "Send If-Match with the ETag you read.",
    ),
    "key-reused": ("That Idempotency-Key was used for another request.", "Use a new key for a new request."),
    "bad-key": ("An Idempotency-Key has 1 to {most} plain characters.", "Use a fresh random one."),
    "bad-request": ("That cannot be used as it is: {reason}", ""),
    "field-too-small": ("{field}: give {least} or more.", ""),
    "field-too-large": ("{field}: give {most} or less.", ""),
    "field-too-long": ("{field}: no more than {most} go in.", ""),
    "field-empty": ("{field}: it cannot stay empty.", ""),
    "field-characters": (
        "{field}: it has characters that cannot be seen, or nothing else than spaces, or others than it may have.",
        "Type it again, in plain letters.",
    ),
    "field-not-given": ("{field}: it is not given.", ""),
    "field-unknown": ("{field}: nothing of that name is known here.", ""),
    "bad-cursor": ("That is no cursor of this list.", "Follow the next link as it came."),
    "bad-slug": ("“{slug}” is no short name.", "Use 1 to 40 of a-z, 0-9 and -, beginning with a letter."),
    "too-large": ("The request is larger than {most} bytes.", "Send less at once."),
    "too-many-requests": ("Too many requests at once.", "Wait {retry_after} s and go on."),
    "busy": ("The service has too much to do just now.", "Try again in {retry_after} s."),
    "cannot-store": (
        "The service cannot store anything just now.",
        "Try again in {retry_after} s; whoever runs it finds the cause in its log.",
    ),
    "newer-database": (
        "The database was made by a newer release (migration {newest}, this one knows {known}).",
        "Install that release, or restore an older backup.",
    ),
    "internal": (
        "Something went wrong on our side.",
        "Try again; if it stays, tell whoever runs the service the request id {request_id}.",
    ),
}
