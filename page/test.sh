#!/bin/sh
# Builds the page and drives it in Chromium: sh page/test.sh [WORD], only the tests whose name has the word.
# Needs what page/build.sh needs, and chromium and java.
set -eu
cd "$(dirname "$0")/.."
root=$(pwd)
sh page/build.sh
cargo build --locked --quiet --bin bloomsalt
target=${CARGO_TARGET_DIR:-target}
target=$(cd "$target" && pwd)
exec node page/tests/run.mjs "$target/page" "$target/debug/bloomsalt" "$root" "$target/page-tools" "$@"
