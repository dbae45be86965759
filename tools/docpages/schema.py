"""docs/results.schema.json: the JSON Schema of results.json, with the meaning of every field."""

import json

from docpages.fields import field_texts
from docpages.files import page_records
from paneglow.results import Results


def schema_page() -> str:
    """Text of the file."""
    schema = Results.model_json_schema()
    held = {"Results": schema, **schema["$defs"]}
    for record in page_records():
        # Two records of one name are told apart by their modules, joined by two underscores
        names = {record.__name__, f"{record.__module__}__{record.__qualname__}".replace(".", "__")}
        for name in names & held.keys():
            for row in field_texts(record):
                held[name]["properties"][row.name].setdefault("description", f"{row.meaning.rstrip('.')}.")
    return json.dumps(schema, indent=2) + "\n"
