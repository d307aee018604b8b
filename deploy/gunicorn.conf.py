"""How gunicorn serves the register: one process with threads, so that they share what is kept in memory."""

import os
from pathlib import Path

bind = os.environ.get("BIND", "127.0.0.1:8000")
workers = int(os.environ.get("WEB_PROCESSES", "1"))
threads = int(os.environ.get("WEB_THREADS", "8"))
worker_class = "gthread"
timeout = 120  # s; longer work is a job
graceful_timeout = 30
keepalive = 5  # s
# The heartbeat file of a worker must not wait for a disk.
worker_tmp_dir = "/dev/shm" if Path("/dev/shm").is_dir() else None  # noqa: S108
control_socket_disable = True
loglevel = "warning"
accesslog = "-" if os.environ.get("ACCESS_LOG") == "1" else None
