"""What a shell completes: climates and test conditions, keys of the spec and their words."""

from typing import Any

import click
from click.shell_completion import CompletionItem


class WeatherName(click.types.StringParamType):
    """A climate's id, a test condition, or a file."""

    name = "weather"

    def shell_complete(
        self,
        ctx: click.Context,  # noqa: ARG002
        param: click.Parameter,  # noqa: ARG002
        incomplete: str,
    ) -> list[CompletionItem]:
        """Offer climates and conditions; where none fits, files."""
        from restcab.weather.climates import climate_ids
        from restcab.weather.conditions import CONDITIONS

        found = [
            CompletionItem(word)
            for word in (*climate_ids(), *CONDITIONS)
            if word.startswith(incomplete.lower())
        ]
        return found or [CompletionItem(incomplete, type="file")]


class ClimateId(click.types.StringParamType):
    """A climate's id."""

    name = "climate"

    def shell_complete(
        self,
        ctx: click.Context,  # noqa: ARG002
        param: click.Parameter,  # noqa: ARG002
        incomplete: str,
    ) -> list[CompletionItem]:
        """Offer the climates."""
        from restcab.weather.climates import climate_ids

        return [CompletionItem(word) for word in climate_ids() if word.startswith(incomplete)]


class Override(click.types.StringParamType):
    """A key of the spec and its value, ``table.key=value``."""

    name = "override"

    def shell_complete(
        self,
        ctx: click.Context,  # noqa: ARG002
        param: click.Parameter,  # noqa: ARG002
        incomplete: str,
    ) -> list[CompletionItem]:
        """Offer keys; behind the sign of equality the words that the key accepts."""
        from restcab.spec.declare import declarations
        from restcab.spec.model import TABLES

        key, equals, value = incomplete.partition("=")
        declared: dict[str, Any] = {
            f"{table}.{entry.key}": entry
            for table, model in TABLES.items()
            for entry in declarations(model).values()
        }
        if not equals:
            return [
                CompletionItem(f"{name}=", help=entry.meaning)
                for name, entry in declared.items()
                if name.startswith(key)
            ]
        words = _words(declared[key].kind) if key in declared else ()
        return [CompletionItem(f"{key}={word}") for word in words if word.startswith(value)]


def _words(kind: Any) -> tuple[str, ...]:
    """Words that a kind of key is chosen from; none for a number."""
    from restcab.spec import catalog
    from restcab.spec.declare import Choice, Row, Text

    if isinstance(kind, Choice):
        return kind.words
    if isinstance(kind, Text):
        return kind.examples
    return catalog.names(kind.table) if isinstance(kind, Row) else ()
