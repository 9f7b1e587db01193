"""From the engine's results to answers: SI to trade units, no new numbers."""
