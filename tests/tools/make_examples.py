"""Makes the pictures of the README, asking a real service for them:

python -m tests.tools.make_examples
"""

import tempfile
from pathlib import Path

from tests.support import RunningService

PICTURES = Path(__file__).resolve().parents[2] / "fixtures" / "pictures"
GROUP = "/v1/groups/ferry-lane"


def main() -> None:
    with tempfile.TemporaryDirectory() as folder, RunningService(Path(folder), demo=True) as service:
        wish = {"seed": 3, "max_level": 3}
        code, other = (
            service.member.post(f"{GROUP}/tunes/{tune}/breaks/random", json=wish).json()["code"]
            for tune in ("heron-ferry", "millers-mitten")
        )
        for name, path in {
            "lick": "licks/14/tab.png?theme=dark&hands=both",
            "loop": f"breaks/{code}/loops/2/tab.png",
            "card": f"tunes/millers-mitten/card.png?player=Wren:{other}&player=Otter:the plain break&shapes=true",
        }.items():
            (PICTURES / f"{name}.png").write_bytes(
                service.member.get(f"{GROUP}/{path}").raise_for_status().content
            )


if __name__ == "__main__":
    main()
