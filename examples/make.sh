#!/bin/sh
# Makes every output in this folder again: sh examples/make.sh, from the root of the repository, with bloomsalt on the PATH
# (cargo install --path . puts it there). Files that are there already are not overwritten: remove the old ones first.
# tests/examples.rs reads this file line by line, runs each command and compares what it makes with what is here.
set -e
bloomsalt mix growth --bench examples/ten-litres.toml > examples/ten-litres-growth.txt
bloomsalt mix push --bench examples/ten-litres.toml > examples/ten-litres-push.txt
bloomsalt mix push --bench examples/ten-litres-finer.toml > examples/ten-litres-finer-push.txt
bloomsalt mix push --bench examples/ten-litres-bottles.toml > examples/ten-litres-bottles-push.txt
bloomsalt mix push --bench examples/one-calcium.toml > examples/one-calcium-push.txt
bloomsalt mix push --bench examples/one-calcium.toml --trade N:Ca > examples/one-calcium-trade.txt

# stock bottles
bloomsalt stock growth --bench examples/streptocarpus.toml --dose-for push > examples/stock-growth.txt
bloomsalt stock push --bench examples/streptocarpus.toml > examples/stock-push.txt

# sheets to print, one of each kind
bloomsalt mix push --bench examples/streptocarpus.toml --sheet examples/sheets/mix-push.html
bloomsalt switch push --bench examples/streptocarpus.toml --logbook examples/streptocarpus-logbook.jsonl --at "2026-10-03 12:00+02:00" --sheet examples/sheets/switch-push.html
bloomsalt check calcium-nitrate-tetrahydrate=18.4g monopotassium-phosphate=9.5g potassium-sulfate=14g magnesium-sulfate-heptahydrate=12.2g calcium-chloride-dihydrate=3.2g iron-dtpa=0.818g boric-acid=0.103g manganese-sulfate-monohydrate=0.074g zinc-sulfate-heptahydrate=0.053g copper-sulfate-pentahydrate=0.012g sodium-molybdate-dihydrate=0.012g --against push --reads "0.95 mS/cm" --bench examples/streptocarpus.toml --sheet examples/sheets/check-push.html
bloomsalt stock growth --bench examples/streptocarpus.toml --dose-for push --sheet examples/sheets/stock-growth.html
bloomsalt today --bench examples/streptocarpus.toml --logbook examples/streptocarpus-logbook.jsonl --at "2026-10-20 09:00+02:00" --sheet examples/sheets/today.html
bloomsalt top-up --bench examples/streptocarpus.toml --logbook examples/streptocarpus-logbook.jsonl --at "2026-10-20 09:00+02:00" --sheet examples/sheets/top-up.html
bloomsalt cycle --bench examples/streptocarpus-cycle.toml --start 2027-01-04 --stamp 2026-12-01 --calendar examples/streptocarpus-cycle.ics --csv examples/streptocarpus-cycle.csv --sheet examples/sheets/cycle.html
