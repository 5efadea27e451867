"""What was scanned, and where it leads: labels at the tank, lots of ATP tests and of agents."""
