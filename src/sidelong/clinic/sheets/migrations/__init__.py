"""How the tables of sheets came to be."""
