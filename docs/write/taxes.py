"""What each shipped tax profile taxes, from `config/taxes/`: rates, classes, rounding, sources."""

from pathlib import Path
from typing import Any

import yaml

from docs.write.parts import table

PROFILES = Path(__file__).resolve().parents[2] / "config" / "taxes"


def taxes_part(folder: Path = PROFILES) -> str:
    """Return a section for each profile in `folder`, in the order of their names."""
    return "\n\n".join(_section(path) for path in sorted(folder.glob("*.yaml")))


def _section(path: Path) -> str:
    # BaseLoader leaves every figure as it is written.
    profile = yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)  # noqa: S506
    rounding = profile["rounding"]
    parts = [
        f"### {profile['name']}: {profile['title']}",
        f"Version {profile['version']}. {profile['caution']}",
        _rates(profile),
        _classes(profile),
        f"Rounding: `{rounding['mode']}`, once for each tax on an {rounding['place']}.",
        f"Source: {_source(rounding['source'])}.",
        "Other sources:",
        "\n".join(f"- {_source(source)}" for source in profile["sources"]),
    ]
    return "\n\n".join(part for part in parts if part)


def _rates(profile: dict[str, Any]) -> str:
    rows = [
        (rate["component"], rate["first_day"], rate["rate"], _source(rate["source"]))
        for rate in profile["rates"]
    ]
    return table(("Tax", "From", "Rate", "Source"), rows) if rows else "It has no rates."


def _classes(profile: dict[str, Any]) -> str:
    components = profile["components"]
    if not components:
        return ""
    rows = [
        (name, *("yes" if component in falls else "no" for component in components))
        for name, falls in profile["classes"].items()
    ]
    return table(("Taxed as", *components), rows)


def _source(source: dict[str, str]) -> str:
    said = ", ".join(source[key] for key in ("title", "publisher", "section"))
    return f"{said} (*{source['status']}*)"
