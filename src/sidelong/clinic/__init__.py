"""The clinic's web application, the only room that knows Django, names and birth dates.

The room stands so that nothing has to move when the application comes.
"""
