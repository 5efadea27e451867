"""A brewery's cleaning programme: clean, sample, decide, keep the evidence."""
