"""Set up and start: makes .venv, keeps it in step with the requirements, then runs what was asked for.

Standard library only, for it runs before anything is installed. Where there is no `make`, call it directly:
`python scripts/setup.py run`.
"""

import hashlib
import os
import subprocess
import sys

ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
VENV = os.path.join(ROOT, ".venv")
WINDOWS = os.name == "nt"
PYTHON = os.path.join(VENV, "Scripts", "python.exe") if WINDOWS else os.path.join(VENV, "bin", "python")
RUN, DEV = "requirements.txt", "requirements-dev.txt"
#: command → (requirements it needs, script it starts)
COMMANDS = {
    "install": (DEV, None),
    "run": (RUN, "serve.py"),
    "test": (DEV, "run_tests.py"),
    "check": (DEV, "run_checks.py"),
    "bench": (DEV, "run_bench.py"),
}


def stop(message):
    sys.exit("Batterboard: " + message)


def require_python():
    if sys.version_info < (3, 11):
        stop(
            "Python 3.11 or newer is needed; this is %d.%d. Install a newer one and say which, "
            "for example: make run PYTHON=python3.12" % sys.version_info[:2]
        )


def make_venv():
    """Make .venv unless it is there; say in one line what is missing if the system's Python cannot."""
    if os.path.exists(PYTHON) and subprocess.call([PYTHON, "-m", "pip", "--version"], stdout=subprocess.DEVNULL) == 0:
        return
    try:
        import ensurepip  # noqa: F401
        import venv
    except ImportError:
        stop("this Python cannot make a virtual environment. On Debian or Ubuntu: sudo apt-get install python3-venv")
    print("Making .venv ...", flush=True)
    venv.create(VENV, with_pip=True, clear=True)


def fingerprint(requirements):
    """A hash of the requirement files and of the Python that would use them."""
    names = [RUN] if requirements == RUN else [RUN, DEV]
    digest = hashlib.sha256(repr(sys.version_info[:2]).encode())
    for name in names:
        with open(os.path.join(ROOT, name), "rb") as file:
            digest.update(file.read())
    return digest.hexdigest()


def is_installed(requirements, wanted):
    try:
        with open(os.path.join(VENV, "installed-" + requirements)) as file:
            return file.read() == wanted
    except OSError:
        return False


def install(requirements):
    """Install what the file asks for, unless exactly that was installed before."""
    wanted = fingerprint(requirements)
    if is_installed(requirements, wanted):
        return
    print("Installing " + requirements + " ...", flush=True)
    pip = [PYTHON, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "-r"]
    if subprocess.call(pip + [os.path.join(ROOT, requirements)]) != 0:
        stop("the packages could not be installed; the lines above say why.")
    with open(os.path.join(VENV, "installed-" + requirements), "w") as file:
        file.write(wanted)


def start(script, arguments):
    """Hand over to the script, in the virtual environment, and end as it ends."""
    command = [PYTHON, os.path.join(ROOT, "scripts", script)] + arguments
    os.chdir(ROOT)
    if not WINDOWS:
        os.execv(PYTHON, command)  # noqa: S606 - our own script, our own Python
    try:
        sys.exit(subprocess.call(command))
    except KeyboardInterrupt:
        sys.exit(130)


def main(arguments):
    require_python()
    if not arguments or arguments[0] not in COMMANDS:
        stop("say what to do, one of: " + ", ".join(COMMANDS))
    requirements, script = COMMANDS[arguments[0]]
    make_venv()
    install(requirements)
    if script:
        start(script, arguments[1:])


if __name__ == "__main__":
    main(sys.argv[1:])
