"""All that `verify` answers as one JSON object, every figure at full precision."""

import json

from terrain.export.later_files import later_dict
from terrain.export.ledger_json import Json
from terrain.export.verify_json import verify_dict
from terrain.job.verified import AllVerified


def verified_dict(told: AllVerified, paths: dict[str, str]) -> dict[str, Json]:
    """The keys of the hole, then those of the other surveys; `paths` are the files by raster."""
    job = told.worked.job
    whole: dict[str, Json] = {
        "title": job.title,
        "length_unit": job.unit.name,
        "volume_unit": job.unit.volume_name,
    }
    if told.hole is not None:
        whole |= verify_dict(told.hole)
    whole |= later_dict(told.later, job.unit.name, paths)
    notes, cautions = whole.get("notes"), whole.get("cautions")
    whole["notes"] = [*(notes if isinstance(notes, list) else []), *told.later.notes]
    whole["cautions"] = [
        *(cautions if isinstance(cautions, list) else []),
        *(caution.message for caution in told.later.cautions),
    ]
    return whole


def verified_json(told: AllVerified, paths: dict[str, str]) -> str:
    """`verified_dict` as text that UTF-8 can hold, two blanks an indent, ending in a newline."""
    whole = verified_dict(told, paths)
    text = json.dumps(whole, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    return text.encode("utf-8", "backslashreplace").decode("utf-8")
