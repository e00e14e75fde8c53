"""Tables of protocols and ladders."""
