"""The log: one JSON object to a line, with keys and numbers, never names or what was typed."""

import json
import logging
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType

_TRACE_DEPTH = 20


class JsonLines(logging.Formatter):
    """Writes a record as one line of JSON; line breaks inside cannot forge a second one."""

    def format(self, record: logging.LogRecord) -> str:
        """Write time, level, logger, event and facts.

        A failure is told by its type and the places it went through. Its message is left out, since
        messages of the database and of parsers quote values.

        Returns
        -------
        str
            One line, in ASCII.
        """
        line: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "event": record.msg if isinstance(record.msg, str) else type(record.msg).__name__,
        }
        facts = getattr(record, "facts", None)
        if facts:
            line["facts"] = facts
        if record.exc_info and record.exc_info[0]:
            line["failure"] = record.exc_info[0].__name__
            line["through"] = _places(record.exc_info[2])
        return json.dumps(line, ensure_ascii=True, default=str)


def _places(trace: TracebackType | None) -> list[str]:
    places = []
    while trace is not None:
        code = trace.tb_frame.f_code
        places.append(f"{Path(code.co_filename).name}:{trace.tb_lineno} {code.co_name}")
        trace = trace.tb_next
    return places[-_TRACE_DEPTH:]
