"""How often: shares with their intervals, what chance alone explains, and what goes with what."""
