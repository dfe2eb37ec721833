"""Every fault at every step of an answer: the person sees exactly one answer, or is told in one sentence, and never two."""

import pytest

from tests.chat.corner import Corner
from tests.chat_platform.faults import Fault

ALREADY_ACKNOWLEDGED = 40060
ACKNOWLEDGING = ("POST", "/interactions/*/*/callback")
ANSWERING = ("POST", "/webhooks/*/*")
FAULTS = {
    "500": Fault(status=500),
    "502 in HTML": Fault(status=502, html=True),
    "503": Fault(status=503),
    "504": Fault(status=504),
    "429": Fault(status=429, retry_after_s=0.2),
    "a connection that breaks before": Fault(drop=True),
    "a connection that breaks after": Fault(drop=True, after=True),
    "an answer cut in half": Fault(truncated=True),
    "a second's delay": Fault(delay_s=1.0),
}


@pytest.mark.parametrize("fault", FAULTS.values(), ids=FAULTS)
@pytest.mark.parametrize("step", [ACKNOWLEDGING, ANSWERING], ids=["acknowledging", "answering"])
def test_one_fault_at_a_step_leaves_one_answer(corner: Corner, step: tuple[str, str], fault: Fault) -> None:
    corner.platform.faults.next(*step, fault)
    asked = corner.ask("break random", corner.wren, tune="heron-ferry")
    assert corner.platform.faults.left == 0
    assert len(asked.messages) == 1
    assert asked.message.content.startswith("**Heron Ferry")
    assert asked.message.attachments[0].content_type == "image/png"
    corner.quiet()
    assert len(asked.messages) == 1
    # an acknowledgement that nobody told us was heard is said once more, and refused
    repeated = corner.platform.take_violations(ALREADY_ACKNOWLEDGED)
    assert len(repeated) <= (step == ACKNOWLEDGING)


@pytest.mark.parametrize("times", [2, 3])
def test_a_platform_that_is_down_for_a_moment_gets_the_answer_later(corner: Corner, times: int) -> None:
    corner.platform.faults.next(*ANSWERING, Fault(status=503), times)
    asked = corner.ask("break random", corner.wren, tune="heron-ferry")
    assert len(asked.messages) == 1


def test_what_went_wrong_is_seen_by_the_asker_alone(corner: Corner) -> None:
    asked = corner.ask("break random", corner.wren, tune="no-such-tune")
    assert [message.ephemeral for message in asked.messages] == [True]
    assert asked.message.content == "**There is no such tune here. Check the name or number.**"
    assert not any(message.loading and not message.deleted for message in asked.made_messages)
