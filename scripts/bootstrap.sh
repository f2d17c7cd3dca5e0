# Sourced by the scripts beside it: makes the machine ready, quickly when it already is.
#
#   make_ready            what running needs: system libraries, .venv, the package
#   make_ready dev        the same and what the tests need: the tools, Chromium
#
# Missing system parts are found before anything else. As root on Debian and its kin they are
# installed; without root there they are unpacked into .venv/sysroot; elsewhere the one line that
# installs them is printed and the script stops. Everything comes from the package indexes that
# pip and apt are already set up for.

set -euo pipefail
root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
cd "$root"

venv=$root/.venv
sysroot=$venv/sysroot
log=$venv/bootstrap.log

# One thread each for the numerical libraries: worker processes share the cores.
export OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 MKL_NUM_THREADS=1 NUMBA_NUM_THREADS=1
export PIP_DISABLE_PIP_VERSION_CHECK=1 PIP_NO_INPUT=1
unset PYTHONPATH PYTHONHOME

say() { printf '%s\n' "fejoint: $*" >&2; }

stop() {
    say "$1"
    [ -z "${2:-}" ] || printf '\n    %s\n\n' "$2" >&2
    exit 1
}

# Runs a command with its output in the log; on failure shows the end of it.
logged() {
    mkdir -p "$venv"
    printf '\n$ %s\n' "$*" >>"$log"
    "$@" >>"$log" 2>&1 </dev/null || {
        tail -n 15 "$log" >&2
        return 1
    }
}

has() { command -v "$1" >/dev/null 2>&1; }
is_debian() { [ -e /etc/debian_version ] && has apt-get && has dpkg; }
is_root() { [ "$(id -u)" -eq 0 ]; }

apt_updated=
apt_update() {
    [ -n "$apt_updated" ] || logged apt-get -q update || say "apt-get update failed; going on"
    apt_updated=1
}

apt_install() {
    say "installing system packages: $*"
    apt_update
    logged env DEBIAN_FRONTEND=noninteractive apt-get -q -y --no-install-recommends \
        -o DPkg::Lock::Timeout=120 install "$@" ||
        stop "the system packages could not be installed; this did not work:" \
            "apt-get update && apt-get install -y --no-install-recommends $*"
}

# Without root: apt with lists and cache of its own, which needs no rights, then dpkg -x.
apt_unpack() {
    local apt=$venv/apt packages deb
    local options=(-q -o "Dir::State=$apt/state" -o Dir::State::status=/var/lib/dpkg/status
        -o "Dir::Cache=$apt/cache" -o Acquire::Languages=none -o APT::Sandbox::User=
        -o APT::Install-Recommends=false)
    local line="sudo apt-get install -y --no-install-recommends $*"
    say "no root here: unpacking into .venv/sysroot: $*"
    mkdir -p "$apt/state/lists/partial" "$apt/cache/archives/partial" "$apt/debs" "$sysroot"
    logged apt-get "${options[@]}" update ||
        stop "the lists of system packages could not be fetched; as root, run:" "$line"
    packages=$(apt-get "${options[@]}" -s install "$@" 2>>"$log" | awk '$1 == "Inst" { print $2 }') ||
        stop "no such system packages here; as root, run:" "$line"
    # shellcheck disable=SC2086  # a list of words
    (cd "$apt/debs" && logged apt-get "${options[@]}" download $packages) ||
        stop "the system packages could not be fetched; as root, run:" "$line"
    for deb in "$apt"/debs/*.deb; do
        logged dpkg -x "$deb" "$sysroot" || stop "$deb could not be unpacked; as root, run:" "$line"
    done
    rm -rf "$apt" "$sysroot/usr/share/doc" "$sysroot/usr/share/man" "$sysroot/usr/share/locale"
    write_sysroot_environment
}

# What programs need to find the unpacked parts; also put into .venv/bin/activate.
write_sysroot_environment() {
    local triplet dirs
    triplet=$(dpkg-architecture -qDEB_HOST_MULTIARCH 2>/dev/null || printf '%s-linux-gnu' "$(uname -m)")
    # The sound library's parts find each other by absolute path, which the root has moved.
    dirs=$sysroot/usr/lib/$triplet:$sysroot/lib/$triplet:$sysroot/usr/lib/$triplet/pulseaudio
    {
        # ${..} below is for the shell that reads the file, perhaps more than once.
        printf 'case ":${LD_LIBRARY_PATH:-}:" in *":%s:"*) ;; *)\n' "$dirs"
        printf 'export LD_LIBRARY_PATH="%s${LD_LIBRARY_PATH:+:$LD_LIBRARY_PATH}";; esac\n' "$dirs"
        printf 'export LIBGL_DRIVERS_PATH="%s"\n' "$sysroot/usr/lib/$triplet/dri"
        if [ -d "$sysroot/usr/share/glvnd/egl_vendor.d" ]; then
            printf 'export __EGL_VENDOR_LIBRARY_DIRS="%s"\n' "$sysroot/usr/share/glvnd/egl_vendor.d"
        fi
        if [ ! -e /etc/fonts/fonts.conf ]; then
            printf 'export FONTCONFIG_FILE="%s"\n' "$sysroot/fonts.conf"
        fi
    } >"$sysroot/environment.sh"
    cat >"$sysroot/fonts.conf" <<XML
<?xml version="1.0"?>
<!DOCTYPE fontconfig SYSTEM "urn:fontconfig:fonts.dtd">
<fontconfig>
  <dir>/usr/share/fonts</dir>
  <dir>$sysroot/usr/share/fonts</dir>
  <cachedir prefix="xdg">fontconfig</cachedir>
</fontconfig>
XML
    use_sysroot
}

use_sysroot() {
    [ ! -e "$sysroot/environment.sh" ] || . "$sysroot/environment.sh"
}

provide() {
    if ! is_debian; then return 1; fi
    if is_root; then apt_install "$@"; else apt_unpack "$@"; fi
}

# A Python that runs and is new enough; a venv made with it needs ensurepip.
works() { "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; }

find_python() {
    local name
    for name in ${PYTHON:+"$PYTHON"} python3 python3.13 python3.12 python3.11 python3.14; do
        if has "$name" && works "$name"; then
            python=$name
            return 0
        fi
    done
    return 1
}

# The newest Python among the system's packages that is new enough.
debian_python() {
    local minor
    for minor in 13 12 11; do
        if apt-cache show "python3.$minor-venv" >/dev/null 2>&1; then
            echo "python3.$minor python3.$minor-venv"
            return 0
        fi
    done
    # Where no list was ever fetched the system's own Python is the best guess.
    if apt-cache show python3 >/dev/null 2>&1; then return 1; fi
    echo "python3 python3-venv"
}

python_line() {
    if is_debian && [ -n "$1" ]; then
        echo "sudo apt-get update && sudo apt-get install -y $1"
    elif has dnf; then
        echo "sudo dnf install -y python3"
    elif has pacman; then
        echo "sudo pacman -S --needed python"
    elif has zypper; then
        echo "sudo zypper install -y python311"
    elif has brew; then
        echo "brew install python@3.12"
    else
        echo "PYTHON=/path/to/python3.11 $0"
    fi
}

need_python() {
    local found package
    if ! find_python && is_debian; then
        if is_root; then apt_update; fi
        package=$(debian_python) || package=
        # shellcheck disable=SC2086  # a list of words
        if is_root && [ -n "$package" ]; then apt_install $package; fi
    fi
    if ! find_python; then
        found=$(python3 --version 2>/dev/null || echo "none")
        stop "Python 3.11 or newer is needed (found: $found); run this, then $0 again:" \
            "$(python_line "${package:-}")"
    fi
    if has_venv; then return 0; fi
    package=python$("$python" -c 'import sys; print("%d.%d" % sys.version_info[:2])')-venv
    if is_debian && is_root; then apt_install "$package"; fi
    has_venv || stop "$python has no venv module; run this, then $0 again:" \
        "$(python_line "$package")"
}

has_venv() { "$python" -c 'import ensurepip, venv' >/dev/null 2>&1; }

# -P keeps the package's module names out of the import path.
missing_packages() { "$python" -P fejoint/system/system_libraries.py "$1" | sed -n 1p; }
install_line() { "$python" -P fejoint/system/system_libraries.py "$1" | sed -n 2p; }

need_libraries() {
    local kind=$1 packages
    packages=$(missing_packages "$kind")
    [ -n "$packages" ] || return 0
    # shellcheck disable=SC2086  # a list of words
    if provide $packages && [ -z "$(missing_packages "$kind")" ]; then return 0; fi
    stop "libraries that the mesher and the pictures need are missing; run this, then $0 again:" \
        "$(install_line "$kind")"
}

find_browser() {
    local name
    for name in "${FEJOINT_CHROMIUM:-}" chromium chromium-browser google-chrome \
        "$sysroot/usr/lib/chromium/chromium" \
        /Applications/Chromium.app/Contents/MacOS/Chromium; do
        if [ -n "$name" ] && has "$name" && "$name" --version >/dev/null 2>&1; then
            export FEJOINT_CHROMIUM=$name
            return 0
        fi
    done
    return 1
}

need_browser() {
    [ "${FEJOINT_CHROMIUM:-}" != none ] || return 0
    if find_browser; then return 0; fi
    # Ubuntu has no Chromium package of its own, only a hint at its other shop.
    if is_debian && ! grep -qs '^ID=ubuntu' /etc/os-release; then
        provide chromium
        if find_browser; then return 0; fi
    fi
    local line="install Chromium and set FEJOINT_CHROMIUM to its path"
    if has snap; then line="sudo snap install chromium"; fi
    if has dnf; then line="sudo dnf install -y chromium"; fi
    if has pacman; then line="sudo pacman -S --needed chromium"; fi
    if has zypper; then line="sudo zypper install -y chromium"; fi
    if has brew; then line="brew install --cask chromium"; fi
    stop "the browser tests need Chromium; run this, then $0 again (or leave those tests out
fejoint: with FEJOINT_CHROMIUM=none):" "$line"
}

fingerprint() {
    cat pyproject.toml scripts/constraints.txt scripts/bootstrap.sh | cksum
}

# Whether what stands in .venv was made from these files, for at least the wanted extras.
is_current() {
    local stamp=$venv/stamp-$1
    [ -e "$stamp" ] && [ "$(cat "$stamp")" = "$(fingerprint)" ] && works "$venv/bin/python"
}

install_package() {
    local extras=$1
    if ! works "$venv/bin/python"; then
        say "making .venv with $("$python" --version)"
        logged "$python" -m venv "$venv" || stop "the environment could not be made; see $log"
    fi
    if [ -e "$sysroot/environment.sh" ] && ! grep -qF "$sysroot" "$venv/bin/activate"; then
        printf '\n. "%s"\n' "$sysroot/environment.sh" >>"$venv/bin/activate"
    fi
    say "installing the packages (a minute or two the first time)"
    rm -f "$venv"/stamp-*
    # The build's own packages are locked too; older pip reads the first, newer the second.
    PIP_CONSTRAINT=scripts/constraints.txt PIP_BUILD_CONSTRAINT=scripts/constraints.txt \
        logged "$venv/bin/python" -m pip install --progress-bar off -c scripts/constraints.txt \
        -e ".$extras" ||
        stop "the packages could not be installed; the whole story is in $log; this did not work:" \
            ".venv/bin/python -m pip install -c scripts/constraints.txt -e '.$extras'"
    say "compiling the kernels"
    logged "$venv/bin/python" -c 'from fejoint.kernel import compiled; compiled.warm()' || true
    say "trying the mesher, the solvers and the pictures"
    "$venv/bin/python" -m fejoint.system.doctor >"$venv/doctor.txt" 2>&1 || {
        cat "$venv/doctor.txt" >&2
        stop "something that is needed does not work here; see the mend above"
    }
}

make_ready() {
    local kind=${1:-run} extras=
    [ "$kind" = dev ] && extras='[dev]'
    # An environment knows its own place by heart: after a move it is made anew.
    if [ -e "$venv/place" ] && [ "$(cat "$venv/place")" != "$root" ]; then rm -rf "$venv"; fi
    mkdir -p "$venv"
    printf '%s\n' "$root" >"$venv/place"
    use_sysroot
    need_python
    need_libraries "$kind"
    [ "$kind" = dev ] && need_browser
    if is_current dev || is_current "$kind"; then
        return 0
    fi
    install_package "$extras"
    fingerprint >"$venv/stamp-$kind"
    say "ready"
}
