"""The door for a web server."""

import multiprocessing
import os
import threading

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "sidelong.clinic.settings")

application = get_wsgi_application()


def _end_with(parent: multiprocessing.process.BaseProcess) -> None:
    """Wait for the program that started this worker, and end when it has ended."""
    parent.join()
    os._exit(1)


# A program that is killed cannot stop its worker, which would keep the port and serve a folder
# that is free for others by then.
if (_parent := multiprocessing.parent_process()) is not None:
    threading.Thread(target=_end_with, args=(_parent,), name="parent", daemon=True).start()
