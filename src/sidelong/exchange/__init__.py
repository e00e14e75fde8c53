"""Files that cross our border: tables, plans, entries, estimates, layouts, old spreadsheets."""
