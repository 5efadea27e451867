"""How often: shares with their intervals, what luck alone explains, and what goes with what."""
