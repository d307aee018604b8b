"""Which channel pairs a link could take: every pair of one or several plans, with its worst margins and reasons."""
