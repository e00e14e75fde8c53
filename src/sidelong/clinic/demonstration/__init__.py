"""The invented clinic: who works there, who practises there, and coming in without a password."""
