"""What a teacher says of a lick."""

from service.judge.fit import Fit, Hurt, judge_fit
from service.judge.naming import name_chords

__all__ = ["Fit", "Hurt", "judge_fit", "name_chords"]
