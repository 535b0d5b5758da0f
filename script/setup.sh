# Shared by script/demo and script/test: find a Python, make the environment, install what is pinned.
# Source it from bash with `set -euo pipefail`; it changes no directory. Works with the bash 3.2 of macOS.
#
#   find_python                 prints the path of a Python 3.12 or newer that really runs
#   ensure_venv [--group test]  makes or mends .venv, installs requirements-lock.txt (or, with the group, what
#                               tests need besides), and sets VENV_PYTHON; does nothing when all is in place
#
# VENV_DIR and SETUP_LOG name other places for the environment and for what pip says. Both functions say in one sentence what is missing.
# shellcheck shell=bash

PROJECT_ROOT="$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)"
VENV_DIR="${VENV_DIR:-$PROJECT_ROOT/.venv}"
VENV_PYTHON="$VENV_DIR/bin/python"
SETUP_LOG="${SETUP_LOG:-$PROJECT_ROOT/var/setup.log}"

say() { printf '%s\n' "$*" >&2; }

# A shim may stand on the PATH and still not run, so each candidate must answer for itself.
_python_is_new_enough() {
  "$1" -c 'import sys; sys.exit(sys.version_info < (3, 12))' >/dev/null 2>&1
}

_python_can_make_environments() {
  "$1" -c 'import ensurepip, sqlite3, venv' >/dev/null 2>&1
}

# One candidate a line, the versions that the packages were checked on first.
_python_candidates() {
  local name versions
  for name in python3.13 python3.12 python3.14 python3 python; do
    type -ap "$name" 2>/dev/null || true
  done
  versions="${PYENV_ROOT:-$HOME/.pyenv}/versions"
  if [ -d "$versions" ]; then
    find "$versions" -mindepth 1 -maxdepth 1 -name '3.*' 2>/dev/null | sort -t. -k2,2nr -k3,3nr |
      while IFS= read -r name; do printf '%s\n' "$name/bin/python3"; done
  fi
  if command -v uv >/dev/null 2>&1; then
    uv python find --no-python-downloads '>=3.12' 2>/dev/null || true
  fi
}

find_python() {
  local candidate crippled=""
  while IFS= read -r candidate; do
    [ -n "$candidate" ] && _python_is_new_enough "$candidate" || continue
    if _python_can_make_environments "$candidate"; then
      "$candidate" -c 'import sys; print(sys.executable)'
      return 0
    fi
    crippled="${crippled:-$candidate}"
  done <<EOT
$(_python_candidates)
EOT
  if [ -n "$crippled" ]; then
    say "Python at $crippled lacks its venv, ensurepip or sqlite3 module: install them (on Debian or Ubuntu the package python3-venv) and run this again."
  else
    say "Python 3.12 or newer is missing: install it (for instance from python.org or your system's packages) and run this again."
  fi
  return 1
}

# What is installed depends on this and on nothing else.
_setup_stamp() {
  "$VENV_PYTHON" -c '
import hashlib, sys
print(sys.argv[1] or "run", sys.version_info[:2], hashlib.sha256(sys.stdin.buffer.read()).hexdigest())' \
    "$1" <"$(_lock_of "$1")"
}

_explain_failed_install() {
  if grep -qiE 'NewConnectionError|Temporary failure|Name or service|Connection (refused|reset|timed out)|ReadTimeout|ProxyError|nodename nor servname|from versions: none' "$SETUP_LOG"; then
    say "The package registry can't be reached: the first run needs a network connection to install the packages (details in $SETUP_LOG)."
  elif grep -qiE 'ResolutionImpossible|conflict' "$SETUP_LOG"; then
    say "The pinned packages contradict each other on this Python: see the end of $SETUP_LOG."
  else
    say "The packages could not be installed: see the end of $SETUP_LOG."
  fi
}

# Exact versions with hashes, so that the same commit sets up the same everywhere (script/lock writes them).
_lock_of() {
  if [ -n "$1" ]; then
    printf '%s\n' "$PROJECT_ROOT/tests/requirements-lock.txt"
  else
    printf '%s\n' "$PROJECT_ROOT/requirements-lock.txt"
  fi
}

_install_packages() {
  "$VENV_PYTHON" -m pip install --disable-pip-version-check --require-hashes -r "$(_lock_of "$1")"
}

# Compiled code is kept beside the planner. After a change of the planner it is compiled again when first used.
_prepare_search() {
  say "Preparing the search ..."
  if ! (cd "$PROJECT_ROOT" && "$VENV_PYTHON" -m schedule.planner.warm) >>"$SETUP_LOG" 2>&1; then
    say "The search could not be prepared: see the end of $SETUP_LOG."
    return 1
  fi
}

ensure_venv() {
  local group="" python stamp_file wanted
  if [ "${1:-}" = "--group" ]; then
    group="${2:?ensure_venv --group needs the name of a dependency group}"
  fi
  mkdir -p "$PROJECT_ROOT/var"
  if ! _python_is_new_enough "$VENV_PYTHON"; then
    python="$(find_python)" || return 1
    say "Making the environment in $VENV_DIR with $("$python" --version) ..."
    if ! "$python" -m venv --clear "$VENV_DIR" >"$SETUP_LOG" 2>&1; then
      say "The environment could not be made in $VENV_DIR: see the end of $SETUP_LOG."
      return 1
    fi
  fi
  stamp_file="$VENV_DIR/installed-${group:-run}"
  wanted="$(_setup_stamp "$group")"
  if [ "$(cat "$stamp_file" 2>/dev/null || true)" = "$wanted" ]; then
    return 0
  fi
  say "Installing the packages (only needed when they change) ..."
  if ! _install_packages "$group" >"$SETUP_LOG" 2>&1; then
    _explain_failed_install
    return 1
  fi
  _prepare_search || return 1
  printf '%s\n' "$wanted" >"$stamp_file"
  if [ -n "$group" ]; then
    # The tests' lock holds what the program needs at the same versions, so that part is in place as well.
    _setup_stamp "" >"$VENV_DIR/installed-run"
  fi
}
