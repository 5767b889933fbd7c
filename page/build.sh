#!/bin/sh
# Builds the page: the library as a WebAssembly module, and around it what a browser needs.
#
#   sh page/build.sh
#
# writes target/page/ (in CARGO_TARGET_DIR where that is set): a folder for any static host, and beside it bloomsalt.html, one
# file with everything inside. Needs node and npm, and either rustup or Debian's packages rustc-web cargo-web rust-web-src
# lld-19, with which the standard library is compiled too (ten minutes the first time).
set -eu
cd "$(dirname "$0")/.."
target=${CARGO_TARGET_DIR:-target}
mkdir -p "$target"
target=$(cd "$target" && pwd)
wasm=wasm32-unknown-unknown

has_target() {
    [ -d "$(rustc --print sysroot 2> /dev/null)/lib/rustlib/$wasm" ]
}
has_target || { command -v rustup > /dev/null && rustup target add "$wasm"; } || true
if has_target; then
    cargo build --locked -p bloomsalt-page --profile browser --target "$wasm"
elif [ -x /usr/bin/wasm-ld-19 ] && [ -x /usr/bin/cargo ]; then
    RUSTC_BOOTSTRAP=1 RUSTC=/usr/bin/rustc CARGO_TARGET_DIR="$target" /usr/bin/cargo -Zbuild-std=std,panic_abort build --locked \
        -p bloomsalt-page --profile browser --target "$wasm" --config "target.$wasm.linker=\"wasm-ld-19\""
else
    echo "no compiler for $wasm: rustup target add $wasm, or apt-get install rustc-web cargo-web rust-web-src lld-19" >&2
    exit 1
fi

# tools stay outside of the sources; their versions are fixed
tools=$target/page-tools
mkdir -p "$tools"
cp page/package.json page/package-lock.json "$tools/"
[ -d "$tools/node_modules/esbuild" ] && cmp -s "$tools/package-lock.json" "$tools/installed" || {
    npm ci --silent --prefix "$tools" > /dev/null
    cp "$tools/package-lock.json" "$tools/installed"
}
NODE_PATH="$tools/node_modules" node page/build.mjs "$target/$wasm/browser/bloomsalt_page.wasm" "$target/page" "$tools"
