"""docs/results.schema.json: the JSON Schema of results.json."""

import json

from paneglow.results import Results


def schema_page() -> str:
    """Text of the file."""
    return json.dumps(Results.model_json_schema(), indent=2) + "\n"
