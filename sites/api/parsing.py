"""Bodies: JSON only, of bounded size and depth."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import IO, Any, Final

from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser

LARGEST_BODY: Final = 5_000_000  # bytes


def _refuse_constant(name: str) -> None:
    raise ParseError(f"The body contains {name}, which JSON does not have; send a finite number or null.")


class BodyParser(BaseParser):
    """Read a JSON object; whatever is wrong with it is said in one sentence."""

    media_type = "application/json"

    def parse(
        self,
        stream: IO[Any],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        body = stream.read(LARGEST_BODY + 1)
        if len(body) > LARGEST_BODY:
            raise ParseError(f"The body is larger than {LARGEST_BODY} bytes; send less at a time.")
        try:
            sent = json.loads(body.decode("utf-8"), parse_constant=_refuse_constant)
        except UnicodeDecodeError as error:
            raise ParseError(f"The body is not UTF-8 text: byte {error.start} cannot be read.") from error
        except json.JSONDecodeError as error:
            raise ParseError(
                f"The body is not JSON: {error.msg} at line {error.lineno}, column {error.colno}."
            ) from error
        except RecursionError as error:
            raise ParseError("The body is nested too deeply.") from error
        except ValueError as error:  # a whole number of more digits than Python reads
            raise ParseError("The body contains a number with too many digits.") from error
        if not isinstance(sent, dict):
            raise ParseError('The body must be a JSON object, for example {"name": "…"}.')
        return sent
