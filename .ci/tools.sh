# Versions of the tools that tests and checks use, and how each is brought here. To be sourced.
BUF_VERSION=v1.75.0
LINT_VERSION=v2.15.0
VERSITYGW_VERSION=v1.8.0
AXE_VERSION=4.14.1

gobin="$(go env GOPATH)/bin"
export PATH="$gobin:$PATH"

say() { printf '\n== %s\n' "$*"; }

# Installs Debian packages that lack: pairs of a program or file, and the package that brings it.
debian() {
    local lacking=()
    while [ $# -gt 0 ]; do
        if ! command -v "$1" >/dev/null 2>&1 && [ ! -e "$1" ]; then lacking+=("$2"); fi
        shift 2
    done
    [ ${#lacking[@]} -eq 0 ] && return 0
    say "installing ${lacking[*]}"
    local root=()
    [ "$(id -u)" = 0 ] || root=(sudo)
    "${root[@]}" apt-get update -q >/dev/null
    DEBIAN_FRONTEND=noninteractive "${root[@]}" apt-get install -y -q --no-install-recommends "${lacking[@]}" >/dev/null
}

# Installs a Go program unless that version is there: name, module path, version.
go_tool() {
    local have
    have="$(go version -m "$gobin/$1" 2>/dev/null | awk '$1 == "mod" {print $3}')" || have=""
    [ "$have" = "$3" ] && return 0
    say "installing $1 $3"
    (cd "$(mktemp -d)" && go install "$2@$3")
}

# Brings a package of npm into a folder outside of the tree unless that version is there: folder, name, version.
npm_package() {
    grep -q "\"version\": \"$3\"" "$1/node_modules/$2/package.json" 2>/dev/null && return 0
    say "installing $2 $3"
    mkdir -p "$1"
    npm install --no-save --no-fund --no-audit --prefix "$1" "$2@$3"
}
