"""The ledger's own pages: who did what, heads to keep, records that prove themselves."""
