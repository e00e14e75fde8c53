"""Database triggers that keep the audit trail as it was written, on SQLite and PostgreSQL.

No row is changed or deleted, a new row continues the last one, and the head moves with the chain.
Who owns the database can drop triggers; then the chain shows what was done.
"""

from typing import Any

from django.db.backends.base.schema import BaseDatabaseSchemaEditor

_SQLITE = (
    """CREATE TRIGGER audit_row_no_update BEFORE UPDATE ON audit_auditrow
       BEGIN SELECT RAISE(ABORT, 'audit rows are never changed'); END""",
    """CREATE TRIGGER audit_row_no_delete BEFORE DELETE ON audit_auditrow
       BEGIN SELECT RAISE(ABORT, 'audit rows are never deleted'); END""",
    """CREATE TRIGGER audit_row_continues BEFORE INSERT ON audit_auditrow
       WHEN NEW.number <> 1 + COALESCE((SELECT MAX(number) FROM audit_auditrow), 0)
         OR (NEW.number > 1 AND NEW.previous <>
             (SELECT digest FROM audit_auditrow WHERE number = NEW.number - 1))
       BEGIN SELECT RAISE(ABORT, 'audit rows continue the chain'); END""",
    """CREATE TRIGGER audit_head_no_delete BEFORE DELETE ON audit_audithead
       BEGIN SELECT RAISE(ABORT, 'the head of the audit chain is never deleted'); END""",
    """CREATE TRIGGER audit_head_moves BEFORE UPDATE ON audit_audithead
       WHEN NEW.number <> OLD.number + 1 OR NOT EXISTS
         (SELECT 1 FROM audit_auditrow WHERE number = NEW.number AND digest = NEW.digest)
       BEGIN SELECT RAISE(ABORT, 'the head moves with the audit chain'); END""",
)
_SQLITE_NAMES = (
    "audit_row_no_update",
    "audit_row_no_delete",
    "audit_row_continues",
    "audit_head_no_delete",
    "audit_head_moves",
)

_POSTGRESQL = (
    """CREATE FUNCTION audit_never() RETURNS trigger LANGUAGE plpgsql AS $$
       BEGIN RAISE EXCEPTION 'the audit trail is never changed or deleted'; END $$""",
    """CREATE FUNCTION audit_continues() RETURNS trigger LANGUAGE plpgsql AS $$
       BEGIN
         IF NEW.number <> 1 + COALESCE((SELECT MAX(number) FROM audit_auditrow), 0)
            OR (NEW.number > 1 AND NEW.previous <>
                (SELECT digest FROM audit_auditrow WHERE number = NEW.number - 1)) THEN
           RAISE EXCEPTION 'audit rows continue the chain';
         END IF;
         RETURN NEW;
       END $$""",
    """CREATE FUNCTION audit_head_moves() RETURNS trigger LANGUAGE plpgsql AS $$
       BEGIN
         IF NEW.number <> OLD.number + 1 OR NOT EXISTS
            (SELECT 1 FROM audit_auditrow WHERE number = NEW.number AND digest = NEW.digest) THEN
           RAISE EXCEPTION 'the head moves with the audit chain';
         END IF;
         RETURN NEW;
       END $$""",
    """CREATE TRIGGER audit_row_kept BEFORE UPDATE OR DELETE ON audit_auditrow
       FOR EACH ROW EXECUTE FUNCTION audit_never()""",
    """CREATE TRIGGER audit_row_not_truncated BEFORE TRUNCATE ON audit_auditrow
       FOR EACH STATEMENT EXECUTE FUNCTION audit_never()""",
    """CREATE TRIGGER audit_row_continues BEFORE INSERT ON audit_auditrow
       FOR EACH ROW EXECUTE FUNCTION audit_continues()""",
    """CREATE TRIGGER audit_head_kept BEFORE DELETE ON audit_audithead
       FOR EACH ROW EXECUTE FUNCTION audit_never()""",
    """CREATE TRIGGER audit_head_not_truncated BEFORE TRUNCATE ON audit_audithead
       FOR EACH STATEMENT EXECUTE FUNCTION audit_never()""",
    """CREATE TRIGGER audit_head_moves BEFORE UPDATE ON audit_audithead
       FOR EACH ROW EXECUTE FUNCTION audit_head_moves()""",
)


def install_triggers(_apps: Any, editor: BaseDatabaseSchemaEditor) -> None:
    """Put the triggers in place; a database of another kind is refused.

    Raises
    ------
    NotImplementedError
        If the database is neither SQLite nor PostgreSQL.
    """
    statements = {"sqlite": _SQLITE, "postgresql": _POSTGRESQL}.get(editor.connection.vendor)
    if statements is None:
        raise NotImplementedError(f"no audit triggers for {editor.connection.vendor}")
    for statement in statements:
        editor.execute(statement)


def remove_triggers(_apps: Any, editor: BaseDatabaseSchemaEditor) -> None:
    """Take the triggers away: for going back before the first migration only."""
    if editor.connection.vendor == "sqlite":
        for name in _SQLITE_NAMES:
            editor.execute(f"DROP TRIGGER IF EXISTS {name}")
    else:
        for function in ("audit_never", "audit_continues", "audit_head_moves"):
            editor.execute(f"DROP FUNCTION IF EXISTS {function}() CASCADE")
