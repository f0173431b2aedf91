"""Makes the environment in .venv from one of the pinned lists and installs steadfeed into it.

    python3 tools/environment.py demo|all

Needs nothing but a Python. Written so that an old Python can still read it and say that it is too old. A stamp beside
the environment holds the hash of what was installed, so that a second run does nothing until a list changes.
"""

import hashlib
import os
import subprocess
import sys

ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
ENVIRONMENT = os.path.join(ROOT, ".venv")
LEAST = (3, 11)
LISTS = ("demo", "all")  # each contains the one before it


def stop(sentence):
    """Leave with one sentence."""
    sys.stderr.write(sentence + "\n")
    sys.exit(1)


def python():
    """Path of the environment's Python."""
    if os.name == "nt":
        return os.path.join(ENVIRONMENT, "Scripts", "python.exe")
    return os.path.join(ENVIRONMENT, "bin", "python")


def stamp(name):
    """Path of the stamp that says with which hash a list was installed."""
    return os.path.join(ENVIRONMENT, ".installed-" + name)


def wanted(name):
    """Hash of all that decides what the environment holds."""
    digest = hashlib.sha256(repr(sys.version_info[:2]).encode())
    for path in (os.path.join("requirements", name + ".txt"), "pyproject.toml"):
        with open(os.path.join(ROOT, path), "rb") as file:
            digest.update(file.read())
    return digest.hexdigest()


def installed(name):
    """Whether this list, or one that contains it, stands in the environment as it is wanted now."""
    if not os.path.exists(python()):
        return False
    for candidate in LISTS[LISTS.index(name) :]:
        try:
            with open(stamp(candidate)) as file:
                if file.read() == wanted(candidate):
                    return True
        except OSError:
            pass
    return False


def create():
    """Make .venv, or say in one sentence why it cannot be made."""
    try:
        import ensurepip  # noqa: F401
        import venv
    except ImportError:
        stop(
            "This Python has no venv module: install it (on Debian and Ubuntu: apt install python3-venv) "
            "and run make again."
        )
    try:
        venv.EnvBuilder(with_pip=True, clear=os.path.isdir(ENVIRONMENT)).create(ENVIRONMENT)
    except (OSError, subprocess.CalledProcessError) as error:
        stop("The environment .venv could not be made (%s): see that this folder can be written." % error)


def usable():
    """Whether .venv holds a Python of this version with pip."""
    check = "import sys, pip; sys.exit(sys.version_info[:2] != %r)" % (tuple(sys.version_info[:2]),)
    try:
        return subprocess.call([python(), "-c", check], stderr=subprocess.DEVNULL) == 0
    except OSError:
        return False


def pip(*arguments):
    """Run the environment's pip quietly."""
    command = [python(), "-m", "pip", "--disable-pip-version-check", "--quiet", "install", "--no-input"]
    if subprocess.call(command + list(arguments), cwd=ROOT) != 0:
        stop("Installing into .venv failed, see above: check the network, then run make again.")


def main():
    """Bring .venv to the state of the named list."""
    if len(sys.argv) != 2 or sys.argv[1] not in LISTS:
        stop("Usage: python3 tools/environment.py " + "|".join(LISTS))
    name = sys.argv[1]
    if sys.version_info < LEAST:
        stop(
            "steadfeed needs Python %d.%d or newer and this is %s: run make PYTHON=python%d.%d, or a newer one."
            % (LEAST + (sys.version.split()[0],) + LEAST)
        )
    if installed(name):
        return
    sys.stderr.write("Setting up .venv from requirements/%s.txt (once, some minutes) …\n" % name)
    if not usable():
        create()
    for old in LISTS:
        if os.path.exists(stamp(old)):
            os.remove(stamp(old))
    pip("--require-hashes", "-r", os.path.join("requirements", name + ".txt"))
    pip("--no-build-isolation", "--no-deps", "-e", ".")
    with open(stamp(name), "w") as file:
        file.write(wanted(name))


if __name__ == "__main__":
    main()
