"""Names, birth dates and contacts: the one place where they lie, sealed; reading is recorded."""
