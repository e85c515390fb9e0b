"""A mapping proposed for a file nobody has mapped yet: guesses with their reasons, and questions."""

from sandlab.exchange.proposing.found import Guess, Question
from sandlab.exchange.proposing.kept import fitting_mapping
from sandlab.exchange.proposing.mapping_text import mapping_text
from sandlab.exchange.proposing.proposal import Proposal, propose_mapping

__all__ = ["Guess", "Proposal", "Question", "fitting_mapping", "mapping_text", "propose_mapping"]
