"""Template tags of the invented clinic."""
