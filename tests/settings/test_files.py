"""A `config/` folder beside the book stands in for the shipped files, file by file."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import ledger_tools
from ledger_tools.errors import ConfigError
from ledger_tools.settings import config_file, profiles

PACKAGE = Path(ledger_tools.__file__).parent


def test_shipped_profiles() -> None:
    """The four profiles the program comes with."""
    assert profiles() == ["ca-qc", "gb", "none", "us-ca"]


def test_own_file_comes_first_and_the_rest_stays(tmp_path: Path) -> None:
    """Only the file that is there beside the book stands in."""
    own = tmp_path / "config" / "rates.yaml"
    own.parent.mkdir()
    own.write_text("rates: []\n", encoding="utf-8")

    assert config_file("rates.yaml", tmp_path) == own
    assert config_file("repairs.yaml", tmp_path) == config_file("repairs.yaml")
    assert config_file("rates.yaml") != own


def test_own_profile_joins_the_list(tmp_path: Path) -> None:
    """A profile of the owner's is offered with the shipped ones, each name once."""
    folder = tmp_path / "config" / "taxes"
    folder.mkdir(parents=True)
    for name in ("atlantis.yaml", "gb.yaml", "notes.txt"):
        (folder / name).write_text("", encoding="utf-8")

    assert profiles(tmp_path) == ["atlantis", "ca-qc", "gb", "none", "us-ca"]


def test_missing_profile_lists_those_there_are(tmp_path: Path) -> None:
    """A name that is not there is answered with the names that are."""
    with pytest.raises(ConfigError, match=r"'taxes/fr\.yaml'.*: ca-qc, gb, none, us-ca"):
        config_file("taxes/fr.yaml", tmp_path)


def test_missing_language_lists_those_there_are() -> None:
    """The same for document texts."""
    with pytest.raises(ConfigError, match=r"'texts/xx\.yaml'.*Languages there are: .*\ben\b"):
        config_file("texts/xx.yaml")


@pytest.mark.parametrize(
    "name",
    ["../x.yaml", "taxes/../../x.yaml", "/etc/hosts", "", "..", "taxes\\..\\x", "C:x", "a\0b"],
)
@pytest.mark.parametrize("own", [True, False])
def test_name_that_leads_out_is_refused(tmp_path: Path, name: str, own: bool) -> None:  # noqa: FBT001
    """No name reaches a file outside the folder, whether the file is there or not."""
    (tmp_path / "x.yaml").write_text("secret: 1\n", encoding="utf-8")
    (tmp_path / "config" / "taxes").mkdir(parents=True)

    with pytest.raises(ConfigError, match="is not a name inside the folder"):
        config_file(name, tmp_path if own else None)


def test_shipped_folder_is_not_the_owner_s(tmp_path: Path) -> None:
    """A book made in the program's own source folder takes the shipped files as shipped."""
    from ledger_tools.settings.files import own_file  # noqa: PLC0415 - not for other rooms

    shipped = config_file("shop.yaml")

    assert own_file("shop.yaml", shipped.parent.parent) is None
    assert own_file("shop.yaml", tmp_path) is None


def test_works_installed_alone(tmp_path: Path) -> None:
    """With `config` inside the package and no checkout about, everything is found."""
    site = tmp_path / "site"
    ignored = shutil.ignore_patterns("__pycache__", "fonts")
    shutil.copytree(PACKAGE, site / "ledger_tools", ignore=ignored)
    shutil.copytree(
        config_file("shop.yaml").parent, site / "ledger_tools" / "config", dirs_exist_ok=True
    )
    program = (
        f"import sys; sys.path.insert(0, {str(site)!r})\n"
        "from datetime import date\n"
        "from ledger_tools.settings import config_file, load_seed, load_texts\n"
        "load_seed('gb', as_of=date(2025, 1, 1)); load_texts('en')\n"
        "print(config_file('taxes/gb.yaml'))\n"
    )

    ran = subprocess.run(
        [sys.executable, "-I", "-c", program],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
    )

    assert ran.stdout.strip() == str(site / "ledger_tools" / "config" / "taxes" / "gb.yaml"), ran
