"""Control charts: the level of a series, when it changed, and how many false alarms to expect."""
