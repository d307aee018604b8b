"""What no page may do: ask another host, raise a script error, break its own policy, or allow another host in it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

#: Sources of a content security policy that reach no other host.
AT_HOME = {"'self'", "'none'", "data:"}
#: What a policy has to rule, or the browser would let everything pass there: a default for what is fetched, and the
#: three that a default does not reach (Content Security Policy Level 3, 6.1 to 6.4).
RULED = {"default-src", "form-action", "frame-ancestors", "base-uri"}
#: The script of the page on the API draws with inline styles (deploy/api.py); they reach no other host.
AGREED = {"/api/v1/docs/": {"the policy allows 'unsafe-inline' in style-src"}}
#: Refusals that a form or an address answers with on purpose. The browser writes them to the console as errors.
REFUSED = {400, 401, 403, 404, 409, 422, 428, 429}


def policy_faults(header: str) -> list[str]:
    """What a content security policy lets in from elsewhere, or leaves to the browser."""
    rules = {name: sources for name, *sources in (part.split() for part in header.split(";") if part.strip())}
    faults = [f"the policy does not rule {name}" for name in sorted(RULED - set(rules))]
    for name, sources in rules.items():
        faults += [f"the policy allows {source} in {name}" for source in sources if source not in AT_HOME]
    return faults


#: What htmx writes when a newer question takes the place of one under way, as the link editor does while one types.
GIVEN_UP = ("htmx:afterRequest", "htmx:sendAbort")


@dataclass
class Watch:
    """Everything that the pages of one browser context did wrong, in the order in which it came."""

    origin: str
    faults: list[str] = field(default_factory=list)
    #: How many pages were read, so that a watch over nothing is noticed.
    pages: int = 0

    def over(self, context: Any) -> None:
        """Watch every page of the context from now on."""
        context.route("**/*", self._stay_here)
        context.on("response", self._answered)
        context.on("weberror", lambda error: self.faults.append(f"script error: {error.error}"))
        context.on("console", self._said)

    def _at_home(self, address: str) -> bool:
        parts = urlsplit(address)
        return f"{parts.scheme}://{parts.netloc}" == self.origin

    def _stay_here(self, route: Any) -> None:
        if self._at_home(route.request.url):
            route.continue_()
        else:
            self.faults.append(f"asked another host: {route.request.url}")
            route.abort()

    def _answered(self, answer: Any) -> None:
        if not self._at_home(answer.url):
            return
        if answer.status >= 500:
            self.faults.append(f"{answer.url} answered {answer.status}")
        if answer.headers.get("content-type", "").startswith("text/html"):
            self.pages += 1
            policy = answer.headers.get("content-security-policy", "")
            allowed = AGREED.get(urlsplit(answer.url).path, set())
            self.faults += [
                f"{answer.url}: {fault}" for fault in policy_faults(policy) if fault not in allowed
            ]

    def _said(self, message: Any) -> None:
        if message.type != "error" and "Content Security Policy" not in message.text:
            return
        if message.text.startswith(GIVEN_UP):
            return
        refused = any(message.text.endswith(f"status of {status} ({_word(status)})") for status in REFUSED)
        if not (refused and message.text.startswith("Failed to load resource")):
            self.faults.append(message.text)


def _word(status: int) -> str:
    from http import HTTPStatus

    # The name of 422 in RFC 9110 is younger than the table of Python 3.11.
    return {422: "Unprocessable Entity"}.get(status, HTTPStatus(status).phrase)
