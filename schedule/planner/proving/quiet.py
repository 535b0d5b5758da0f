"""HiGHS without its banner: version 1.16 prints two lines to standard output when its first solver is made.

No option turns that off, since options belong to a solver that has been made already. So the first one is made
here, with standard output pointed elsewhere for that moment; later ones are silent.
"""

import ctypes
import os

import highspy


def _first_solver() -> None:
    """Make a solver and throw it away, its banner with it. Does nothing where standard output is closed."""
    try:
        kept = os.dup(1)
    except OSError:
        return
    libc = ctypes.CDLL(None)
    libc.fflush(None)
    away = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(away, 1)
        highspy.Highs()  # type: ignore[no-untyped-call]  # its stubs leave it untyped
        libc.fflush(None)  # the banner may still wait in the library's buffer
    finally:
        os.dup2(kept, 1)
        os.close(away)
        os.close(kept)


_first_solver()


def new_solver() -> highspy.Highs:
    """A silent solver that uses one thread."""
    solver = highspy.Highs()  # type: ignore[no-untyped-call]  # its stubs leave it untyped
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    return solver
