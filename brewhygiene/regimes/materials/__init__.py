"""What an agent does to the materials of a vessel, when hot, and to the agent before it."""
