"""Documents held against the schemas that ship with the package, each schema checked once."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

from jsonschema.validators import validator_for

import pointmodel as pm


@cache
def _validator(schema_text: str) -> Any:
    schema = json.loads(schema_text)
    kind = validator_for(schema)
    kind.check_schema(schema)
    return kind(schema)


def keeps_its_schema(document: Any, name: str) -> None:
    """Raise jsonschema's ValidationError where a document is not as the schema of its name says.

    A schema lists what is registered by now: terms of a user's own among them.
    """
    _validator(json.dumps(pm.schema(name))).validate(document)
