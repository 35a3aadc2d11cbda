"""Documents held against the schemas that ship with the package, each schema checked once."""

from __future__ import annotations

from functools import cache
from typing import Any

from jsonschema.validators import validator_for

import pointmodel as pm


@cache
def _validator(name: str) -> Any:
    schema = pm.schema(name)
    kind = validator_for(schema)
    kind.check_schema(schema)
    return kind(schema)


def keeps_its_schema(document: Any, name: str) -> None:
    """Raise jsonschema's ValidationError where a document is not as the schema of its name says."""
    _validator(name).validate(document)
