"""Run the stand-in until it is ended: prints its address, token and a bot's environment as a line of JSON."""

import argparse
import json
import threading

from tests.chat_platform.control import Control
from tests.chat_platform.stand_in import Platform


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.chat_platform", description=__doc__)
    parser.add_argument("--servers", type=int, default=1)
    parser.add_argument("--port", type=int, default=0)
    parser.add_argument("--shards", type=int, default=1)
    parser.add_argument("--ack-s", type=float, default=3.0)
    parser.add_argument("--token-s", type=float, default=900.0)
    given = vars(parser.parse_args())
    platform = Platform(**given)
    platform.more_routes.append(("POST", "/stand-in/do", Control(platform).handle))
    with platform:
        told = {"address": platform.address, "token": platform.token, "environment": platform.environment}
        print(json.dumps(told), flush=True)
        threading.Event().wait()


main()
