"""What to repeat next, what it would settle, and when it is enough."""

from tableside.credibility.next_best.losses import Losses, losses
from tableside.credibility.next_best.ranking import (
    Ranking,
    RankingOptions,
    Worth,
    advice,
    ranking,
)

__all__ = ["Losses", "Ranking", "RankingOptions", "Worth", "advice", "losses", "ranking"]
