#!/usr/bin/env bash
# Checks the printed sheets with tools of their own, and makes pictures of them to look at:
#
#   tests/pages/look.sh FOLDER [SHEET.html ...]
#
# Every sheet (all of examples/sheets/ unless some are named) goes through the Nu HTML checker and is printed on A4 and on
# US Letter and shown light and dark, on a desk and on a phone, by Chromium. PDF and PNG land in FOLDER. A page wider than
# its screen, or a complaint of the checker, fails. Without named sheets the checker's result is recorded in
# tests/oracle/sheets.json, which tests/sheet.rs compares with the files.
#
# Needs node, java, and the Debian packages chromium and poppler-utils; fetches vnu-jar and playwright-core by npm.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
mkdir -p "${1:?usage: look.sh FOLDER [SHEET.html ...]}"
out=$(cd "$1" && pwd)
shift
for tool in node npm java chromium pdftoppm; do
    command -v "$tool" > /dev/null || { echo "$tool is missing: apt-get install chromium poppler-utils" >&2; exit 1; }
done
record=
if [ $# -eq 0 ]; then
    record=$here/../oracle/sheets.json
    set -- "$here"/../../examples/sheets/*.html
fi
tools=$out/tools
mkdir -p "$tools"
[ -d "$tools/node_modules/playwright-core" ] || npm install --silent --ignore-scripts --prefix "$tools" vnu-jar@26.9.27 playwright-core@1 > /dev/null
cp "$here/look.mjs" "$tools/"
node "$tools/look.mjs" "$out" "$record" "$@"
for pdf in "$out"/*.pdf; do
    pdftoppm -r 75 -png "$pdf" "${pdf%.pdf}"
done
