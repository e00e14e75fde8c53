#!/usr/bin/env bash
# Print the kits that marks are learned on: all scales, both editions, other directions and papers.
# Run: research/marks/make_kits.sh KITS
set -euo pipefail
kits=$1
root=$(cd "$(dirname "$0")/../.." && pwd)
sidelong=$root/.venv/bin/sidelong
mkdir -p "$kits"
plan() { "$sidelong" plan --seed "$1" --out "$kits/$2.csv" "${@:3}"; }
kit() { [ -e "$kits/$1/layout.json" ] ||
  "$sidelong" booklet "$kits/$2.csv" --out "$kits/books-$1" --kit "$kits/$1" "${@:3}"; }

plan 3 five --trainees 24 --piece-mm 5
plan 8 younger --trainees 4 --nights 7 --piece-mm 5 --bands younger
plan 9 short --trainees 3 --nights 7 --piece-mm 5
plan 10 level --trainees 3 --nights 7 --piece-mm 9 --positions down,left,centre,right
for scale in 4 3 2; do
  sed "s/^scale = .*/scale = $scale/" "$root/src/sidelong/exchange/default_protocol.toml" \
    > "$kits/scale$scale.toml"
  kit "s$scale" younger --protocol "$kits/scale$scale.toml"
done
kit std five
kit l5 short --edition large
kit ar short --language ar-XB
kit xa short --language en-XA --paper letter
kit l4ar younger --edition large --protocol "$kits/scale4.toml" --language ar-XB
kit n4 level
