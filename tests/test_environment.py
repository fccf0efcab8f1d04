"""The virtual environment of `tests/run.py` and `demo/run.py`: kept, made anew, never taken."""

import json
import venv
from collections.abc import Callable
from pathlib import Path

import pytest

from demo import environment


@pytest.fixture
def made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Put the checkout in an empty folder and note what would be made and installed."""
    checkout = tmp_path / "a checkout"
    checkout.mkdir()
    (checkout / "pyproject.toml").write_text("[project]\n", encoding="utf-8")
    home = checkout / ".venv"
    monkeypatch.setattr(environment, "CHECKOUT", checkout)
    monkeypatch.setattr(environment, "ENVIRONMENT", home)
    monkeypatch.setattr(environment, "_MARK", home / "mark.json")
    steps: list[str] = []

    def _create(*_: object) -> None:
        steps.append("made")

    def _install(extra: str) -> None:
        steps.append(f"installed {extra}")

    def _run(*_: object) -> int:
        return 0

    monkeypatch.setattr(venv.EnvBuilder, "create", _create)
    monkeypatch.setattr(environment, "_install", _install)
    monkeypatch.setattr(environment, "run", _run)
    return steps


def test_one_that_fits_is_used_again(made: list[str]) -> None:
    """The second start makes and installs nothing, so it needs no network."""
    environment.python_with("test")
    environment.python_with("test")

    assert made == ["made", "installed test"]


def test_the_demonstration_uses_what_the_tests_made(made: list[str]) -> None:
    """More than is needed also fits; less is added to."""
    environment.python_with()
    environment.python_with("test")
    environment.python_with()

    assert made == ["made", "installed ", "installed test"]


def _other_python(mark: dict[str, object]) -> None:
    mark["python"] = "CPython 3.10"


def _other_place(mark: dict[str, object]) -> None:
    mark["checkout"] = "elsewhere"


@pytest.mark.parametrize("change", [_other_python, _other_place])
def test_one_of_another_kind_is_made_anew(
    made: list[str], change: Callable[[dict[str, object]], None]
) -> None:
    """Another Python or a checkout that was moved needs a new environment."""
    environment.python_with("test")
    mark_file = environment.ENVIRONMENT / "mark.json"
    mark = json.loads(mark_file.read_text(encoding="utf-8"))
    change(mark)
    mark_file.write_text(json.dumps(mark), encoding="utf-8")

    environment.python_with("test")

    assert made == ["made", "installed test"] * 2


def test_a_changed_pyproject_makes_it_anew(made: list[str]) -> None:
    """Dependencies may have changed, so they are installed from the start."""
    environment.python_with("test")
    (environment.CHECKOUT / "pyproject.toml").write_text("[build]\n", encoding="utf-8")

    environment.python_with("test")

    assert made == ["made", "installed test"] * 2


def test_one_left_half_made_is_made_anew(made: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """An installation that was broken off does not count as one that fits."""

    def _broken_off(_: str) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(environment, "_install", _broken_off)
        with pytest.raises(KeyboardInterrupt):
            environment.python_with("test")

    environment.python_with("test")

    assert made == ["made", "made", "installed test"]


def test_somebody_elses_is_left_alone(made: list[str]) -> None:
    """A `.venv` without our mark may hold a person's own work."""
    own = environment.ENVIRONMENT / "own.txt"
    own.parent.mkdir()
    own.touch()

    with pytest.raises(SystemExit, match="left alone"):
        environment.python_with("test")

    assert own.exists()
    assert made == []


def test_an_old_python_is_refused(made: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """The word is plain, and nothing is made."""
    monkeypatch.setattr(environment, "OLDEST_PYTHON", (9, 0))

    with pytest.raises(SystemExit, match=r"Python 3\.11 or newer is needed"):
        environment.python_with("test")

    assert made == []
