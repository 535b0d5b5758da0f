"""script/setup.sh: finds a Python that runs, and says in one sentence what is missing."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.long
ROOT = Path(__file__).resolve().parents[2]
TOOLS = ("bash", "cat", "dirname", "find", "grep", "mkdir", "sort")


@pytest.fixture
def bare(tmp_path: Path) -> Path:
    """A folder that holds the few tools the script needs, to be the whole PATH; no Python."""
    folder = tmp_path / "bin"
    folder.mkdir()
    for tool in TOOLS:
        found = shutil.which(tool)
        assert found is not None
        (folder / tool).symlink_to(found)
    return folder


def add_python(bare: Path, name: str, script: str) -> None:
    """An executable of this name."""
    file = bare / name
    file.write_text(f"#!{bare / 'bash'}\n{script}\n", encoding="utf-8")
    file.chmod(0o755)


def run(bare: Path, command: str) -> subprocess.CompletedProcess[str]:
    """A command with the functions of the script at hand, from a folder that is not the project's."""
    home = bare.parent
    return subprocess.run(
        [bare / "bash", "-euo", "pipefail", "-c", f'. "{ROOT}/script/setup.sh"; {command}'],
        capture_output=True,
        text=True,
        check=False,
        cwd=home,
        env={
            "PATH": str(bare),
            "HOME": str(home),
            "VENV_DIR": str(home / "venv with a space"),
            "SETUP_LOG": str(home / "setup.log"),
            # Nothing listens on the discard port of this machine.
            "PIP_INDEX_URL": "http://127.0.0.1:9/simple",
            "PIP_EXTRA_INDEX_URL": "",
            "PIP_RETRIES": "0",
            "PIP_CONFIG_FILE": os.devnull,
        },
    )


def test_no_python_is_said_in_one_sentence(bare: Path) -> None:
    done = run(bare, "ensure_venv")
    assert done.returncode == 1
    assert done.stdout == ""
    assert done.stderr.startswith("Python 3.12 or newer is missing")
    assert len(done.stderr.splitlines()) == 1


def test_an_old_python_and_a_shim_that_fails_are_passed_over(bare: Path) -> None:
    add_python(bare, "python3.13", "exit 127")
    add_python(bare, "python3.12", f'exec "{sys.executable}" "$@"')
    add_python(bare, "python3", "exit 1")
    done = run(bare, "find_python")
    assert done.returncode == 0
    assert Path(done.stdout.strip()).samefile(sys.executable)


def test_a_python_without_venv_is_named_with_the_remedy(bare: Path) -> None:
    add_python(bare, "python3", f'case "$2" in *ensurepip*) exit 1 ;; *) exec "{sys.executable}" "$@" ;; esac')
    done = run(bare, "find_python")
    assert done.returncode == 1
    assert "python3-venv" in done.stderr


def test_a_registry_out_of_reach_is_said_in_one_sentence(bare: Path) -> None:
    add_python(bare, "python3", f'exec "{sys.executable}" "$@"')
    done = run(bare, "ensure_venv")
    assert done.returncode == 1
    assert "The package registry can't be reached" in done.stderr.splitlines()[-1]


def test_nothing_is_installed_when_nothing_changed(bare: Path) -> None:
    add_python(bare, "python3", f'exec "{sys.executable}" "$@"')
    run(bare, "ensure_venv")  # makes the environment and fails to fill it
    done = run(bare, '_setup_stamp "" > "$VENV_DIR/installed-run"; ensure_venv; echo in place')
    assert (done.returncode, done.stdout, done.stderr) == (0, "in place\n", "")
    stale = run(bare, 'echo other > "$VENV_DIR/installed-run"; ensure_venv')
    assert stale.returncode == 1
