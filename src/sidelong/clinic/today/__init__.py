"""Today's page: where everybody begins."""
