"""A gig while it runs."""
