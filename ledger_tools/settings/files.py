"""Where config files are: a `config/` folder beside the book first, then the shipped one."""

from pathlib import Path, PurePosixPath

from ledger_tools.errors import ConfigError

_PACKAGE = Path(__file__).resolve().parent.parent


def config_file(name: str, beside: Path | None = None) -> Path:
    """Return the file called `name` inside `config/`, such as ``taxes/gb.yaml``.

    A file of that name in the folder `config` in `beside`, the folder of the book, stands in for
    the shipped one.

    Raises:
        ConfigError: There is no such file, or `name` leads out of the folder.
    """
    _refuse_way_out(name)
    for folder in _folders(beside):
        if (folder / name).is_file():
            return folder / name
    raise _missing(name, beside)


def own_file(name: str, beside: Path | None) -> Path | None:
    """Return the owner's own file of that name beside the book; None where only the shipped is."""
    _refuse_way_out(name)
    own = _own_folder(beside)
    return own / name if own and (own / name).is_file() else None


def shipped_file(name: str) -> Path | None:
    """Return the shipped file of that name, whatever stands beside the book; None for none."""
    _refuse_way_out(name)
    shipped = _shipped_folder() / name
    return shipped if shipped.is_file() else None


def profiles(beside: Path | None = None) -> list[str]:
    """Return the names of the tax profiles there are, shipped and beside the book, sorted."""
    return _names("taxes", beside)


def places(beside: Path | None = None) -> list[str]:
    """Return the places there are authorisation rules of, shipped and beside the book, sorted."""
    return _names("authorisation", beside)


def languages(beside: Path | None = None) -> list[str]:
    """Return the languages there are document texts for, shipped and beside the book, sorted."""
    return _names("texts", beside)


def _names(folder: str, beside: Path | None) -> list[str]:
    found = (file for config in _folders(beside) for file in (config / folder).glob("*.yaml"))
    return sorted({file.stem for file in found})


def _folders(beside: Path | None) -> tuple[Path, ...]:
    own = _own_folder(beside)
    return (own, _shipped_folder()) if own else (_shipped_folder(),)


def _own_folder(beside: Path | None) -> Path | None:
    # A book kept in the folder of the program's source has no `config/` of its own there.
    own = beside / "config" if beside else None
    return own if own and own.is_dir() and own.resolve() != _shipped_folder() else None


def _shipped_folder() -> Path:
    inside = _PACKAGE / "config"
    return inside if inside.is_dir() else _PACKAGE.parent / "config"


def _refuse_way_out(name: str) -> None:
    path = PurePosixPath(name)
    if not path.parts or path.is_absolute() or ".." in path.parts or set(name) & set("\\:\0"):
        raise ConfigError(
            "config", f"'{name}' is not a name inside the folder", "Give the bare name of a file"
        )


def _missing(name: str, beside: Path | None) -> ConfigError:
    where = str(_folders(beside)[0])
    what = f"there is no file '{name}'"
    kind = PurePosixPath(name).parts[0]
    if kind == "taxes":
        return ConfigError(where, what, f"Tax profiles there are: {', '.join(profiles(beside))}")
    if kind == "authorisation":
        return ConfigError(where, what, f"Rules there are: {', '.join(places(beside))}")
    if kind == "texts":
        return ConfigError(where, what, f"Languages there are: {', '.join(languages(beside))}")
    return ConfigError(where, what, "Install the program again, or put the file there")
