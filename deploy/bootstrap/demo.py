"""``make demo``: the register with an invented network, checked, summed up and served."""

from __future__ import annotations

import os
import socket
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Mapping, Sequence

from deploy.bootstrap import environment
from deploy.bootstrap.running import ROOT, VAR_DIR, StepError, run, say, timed

HOST = "127.0.0.1"
PORTS_TRIED = 20
START_SECONDS = 60
_FRESH = "move the folder var/ away to begin with an empty database, then run `make demo` again"


def command(_arguments: Sequence[str]) -> int:
    serve = os.environ.get("SERVE", "1") != "0"
    wanted = wanted_port(os.environ.get("PORT", "8000"))
    say("Preparing the demo")
    environment.ensure("runtime")
    VAR_DIR.mkdir(parents=True, exist_ok=True)
    port = free_port(wanted) if serve else wanted
    settings = {"DJANGO_SETTINGS_MODULE": "deploy.settings.demo", "PORT": str(port)}
    _manage("bringing the database up to date", settings, "migrate", "--no-input", "--verbosity=0")
    _manage("collecting style sheets and scripts", settings, "collectstatic", "--no-input", "--verbosity=0")
    sign_ins = _manage("entering the demo network", settings, "demo_network")
    summary = _manage("checking the whole network", settings, "check_network")
    say(f"\n{summary.strip()}\n\n{sign_ins.strip()}\n")
    if not serve:
        say("Not served, since SERVE=0. `make demo` serves it.")
        return 0
    if port != wanted:
        say(f"Port {wanted} is taken; port {port} is used instead (PORT=… chooses another).")
    return _serve(port, settings)


def wanted_port(text: str) -> int:
    """The port number that PORT asks for, 1 to 65535; raises ``StepError`` for anything else."""
    if text.isascii() and text.isdigit() and 0 < int(text) < 2**16:
        return int(text)
    raise StepError(
        "reading PORT", f"PORT is {text!r}; a number from 1 to 65535 was expected", "try PORT=8000"
    )


def free_port(wanted: int) -> int:
    """The wanted port, or the next one that nobody listens on."""
    for port in range(wanted, min(wanted + PORTS_TRIED, 2**16)):
        with socket.socket() as probe:
            # As the server will: a port whose last connection is still closing counts as free.
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((HOST, port))
            except PermissionError as error:
                raise StepError(
                    "choosing a port", f"port {port} may not be opened: {error}", "try PORT=8000"
                ) from error
            except OSError:
                continue
            return port
    raise StepError(
        "choosing a port",
        f"ports {wanted} to {wanted + PORTS_TRIED - 1} of {HOST} are all taken",
        "end what listens there or choose another with PORT=…",
    )


def _manage(step: str, settings: Mapping[str, str], *arguments: str) -> str:
    with timed(step):
        return run(step, [environment.PYTHON, "manage.py", *arguments], env=settings, mend=_FRESH)


def _serve(port: int, settings: Mapping[str, str]) -> int:
    command = [environment.PYTHON, "-m", "gunicorn", "--config", "deploy/gunicorn.conf.py"]
    bound = {**os.environ, **settings, "BIND": f"{HOST}:{port}"}
    address = f"http://localhost:{port}/"
    server = subprocess.Popen([*command, "deploy.wsgi:application"], cwd=ROOT, env=bound)
    try:
        _wait_until_answered(server, port)
        say(f"The register is at {address}  (Ctrl-C ends it)")
        return server.wait()
    except KeyboardInterrupt:
        return 0
    finally:
        server.terminate()
        server.wait()


def _wait_until_answered(server: subprocess.Popen[bytes], port: int) -> None:
    step, mend = "starting the web server", "read the messages above; `make lint` checks the settings"
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    last_seen = "no answer"
    end = time.monotonic() + START_SECONDS
    while time.monotonic() < end:
        if server.poll() is not None:
            raise StepError(step, f"gunicorn ended with status {server.returncode}", mend)
        try:
            opener.open(f"http://{HOST}:{port}/", timeout=5).close()
        except urllib.error.HTTPError as error:
            raise StepError(step, f"the first page answered {error.code}", mend) from error
        except OSError as error:
            last_seen = str(error)
            time.sleep(0.1)
        else:
            return
    raise StepError(step, f"no page within {START_SECONDS} s ({last_seen})", mend)
