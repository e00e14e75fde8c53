"""The clinic's web application: the only room that knows Django, names and birth dates."""
