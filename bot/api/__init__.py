"""The service, as the bot sees it: a typed client, and a module of asks for each kind of thing."""
