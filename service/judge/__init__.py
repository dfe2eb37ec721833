"""What a teacher says of a lick."""

from service.judge.fit import Fit, Hurt, judge_fit

__all__ = ["Fit", "Hurt", "judge_fit"]
