"""The words of an issued paper as one text in the register, and back."""

from collections.abc import Mapping


def as_text(wording: Mapping[str, str]) -> str:
    """Return the words as one text, the same for the same words."""
    import json  # noqa: PLC0415 - only where papers are issued

    return json.dumps(dict(wording), ensure_ascii=False, sort_keys=True)


def from_text(text: str) -> dict[str, str] | None:
    """Return the words that `as_text` made into a text, or None where it is none."""
    import json  # noqa: PLC0415 - only where papers were issued

    try:
        said = json.loads(text or "{}")
    except json.JSONDecodeError:
        return None
    return {str(k): str(v) for k, v in said.items()} if isinstance(said, dict) else None
