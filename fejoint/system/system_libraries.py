"""Which system libraries the wheels need, which of them are missing, and what installs those.

The standard library is enough for this file, and it imports nothing of the package:
``scripts/bootstrap.sh`` runs it with a bare Python before anything is installed.
"""

from __future__ import annotations

import ctypes
import shutil
import sys
from collections.abc import Iterable

LIBRARIES: dict[str, tuple[str, str]] = {
    "libGL.so.1": ("libgl1", "libglvnd"),
    "libGLU.so.1": ("libglu1-mesa", "glu"),
    "libEGL.so.1": ("libegl1", "libglvnd"),
    "libX11.so.6": ("libx11-6", "libx11"),
    "libXext.so.6": ("libxext6", "libxext"),
    "libXrender.so.1": ("libxrender1", "libxrender"),
    "libXfixes.so.3": ("libxfixes3", "libxfixes"),
    "libXcursor.so.1": ("libxcursor1", "libxcursor"),
    "libXft.so.2": ("libxft2", "libxft"),
    "libXinerama.so.1": ("libxinerama1", "libxinerama"),
    "libfontconfig.so.1": ("libfontconfig1", "fontconfig"),
    "libgomp.so.1": ("libgomp1", "gcc-libs"),
    "libstdc++.so.6": ("libstdc++6", "gcc-libs"),
    "libz.so.1": ("zlib1g", "zlib"),
    "libatomic.so.1": ("libatomic1", "gcc-libs"),
}
"""Libraries that the mesher's and the drawing library's wheels expect of a Linux system.

Each with the package that holds it on Debian and its kin, and on Arch. Read off the wheels with
``readelf -d`` and completed by what the drawing library opens at run time (libEGL); Arch's names
are from memory.
"""

FOR_TESTS = frozenset({"libatomic.so.1"})
"""Those that only the browser tests' driver needs."""


def missing_libraries(tests: bool = False) -> tuple[str, ...]:
    """Return the system libraries that the wheels need and the loader cannot find."""
    if not sys.platform.startswith("linux"):
        return ()
    return tuple(
        name for name in LIBRARIES if (tests or name not in FOR_TESTS) and not _loads(name)
    )


def _loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def debian_packages(libraries: Iterable[str]) -> tuple[str, ...]:
    """Return the Debian packages that hold the given libraries, each once."""
    return tuple(dict.fromkeys(LIBRARIES[name][0] for name in libraries))


def install_line(libraries: Iterable[str]) -> str:
    """Return the one command that installs the given libraries on this system."""
    names = tuple(libraries)
    if shutil.which("apt-get"):
        return "sudo apt-get install -y " + " ".join(debian_packages(names))
    capabilities = " ".join(f"'{name}()(64bit)'" for name in names)
    if shutil.which("dnf"):
        return f"sudo dnf install -y {capabilities}"
    if shutil.which("zypper"):
        return f"sudo zypper install -y --capability {capabilities}"
    if shutil.which("pacman"):
        return "sudo pacman -S --needed " + " ".join(
            dict.fromkeys(LIBRARIES[name][1] for name in names)
        )
    return "install, with your system's package manager, what holds: " + " ".join(names)


def driver_line() -> str:
    """Return the command that installs a software OpenGL driver, for drawing without a screen."""
    if shutil.which("apt-get"):
        return "sudo apt-get install -y libegl-mesa0 libgl1-mesa-dri"
    if shutil.which("dnf"):
        return "sudo dnf install -y mesa-dri-drivers"
    return "install, with your system's package manager, the Mesa OpenGL drivers"


if __name__ == "__main__":
    # One line each: the Debian packages that are missing, then the command that installs them.
    absent = missing_libraries(tests="dev" in sys.argv)
    print(*debian_packages(absent))
    print(install_line(absent) if absent else "")
