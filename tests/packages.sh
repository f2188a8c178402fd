# Sourced by start.sh and check.sh: installs the packages of packages.txt that are missing.

# need_packages KIND...: build, test
need_packages() {
    missing=
    for kind; do
        for package in $(awk -v kind="$kind" '$1 == kind { print $2 }' tests/packages.txt); do
            state=$(dpkg-query -W -f '${db:Status-Status}' "$package" 2>/dev/null) || state=
            [ "$state" = installed ] || missing="$missing $package"
        done
    done
    [ -n "$missing" ] || return 0
    root=
    if [ "$(id -u)" -ne 0 ]; then
        root=sudo
        command -v sudo >/dev/null || {
            echo "These packages are missing; install them as root: apt-get install$missing" >&2
            return 1
        }
    fi
    echo "Installing:$missing"
    $root apt-get update -q
    # shellcheck disable=SC2086 # a word a package
    $root env DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends $missing
}
