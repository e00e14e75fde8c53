"""Everything that is printed, and later read back: geometry, booklets, reports, pictures."""
