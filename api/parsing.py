"""JSON read exactly: digits kept, and nothing that two readers could understand differently."""

from __future__ import annotations

import json
from collections.abc import Mapping
from decimal import Decimal
from typing import IO, Any, Never

from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser


class StrictJSON(JSONParser):
    """Numbers with a point become Decimal. Refuses NaN, a name given twice, and broken Unicode."""

    def parse(
        self,
        stream: IO[Any],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        try:
            text = stream.read().decode("utf-8")
            read = json.loads(
                text,
                parse_float=Decimal,
                parse_constant=_no_constant,
                object_pairs_hook=_each_name_once,
            )
            # Half of a surrogate pair is legal JSON, but no database and no answer can carry it.
            json.dumps(read, ensure_ascii=False, default=str).encode("utf-8")
        except (ValueError, ArithmeticError) as error:
            raise ParseError(f"The body is not JSON we can read: {error}.") from error
        except RecursionError as error:
            raise ParseError("The body is nested too deep.") from error
        return read


def _no_constant(name: str) -> Never:
    raise ValueError(f"{name} is not a JSON number")


def _each_name_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    read = dict(pairs)
    if len(read) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f'"{ascii(twice)[1:-1]}" is given twice in one object')
    return read
