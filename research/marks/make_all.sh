#!/usr/bin/env bash
# Make src/sidelong/paper/reading/mark_nets.npz again, from the sheets as they are printed now.
# Run: research/marks/make_all.sh WORK TORCH_PYTHON
# WORK is an empty folder (4 GB); TORCH_PYTHON a Python with PyTorch 2.13 and NumPy. One core takes
# about two hours. Every step leaves files, so that it can be taken up where it was cut off.
set -euo pipefail
work=$1 torch=$2
here=$(cd "$(dirname "$0")" && pwd)
python=$here/../../.venv/bin/python
export OPENBLAS_NUM_THREADS=1

"$here/make_kits.sh" "$work/kits"
kits=("$work/kits/std" "$work"/kits/{s4,s3,s2,l5,ar,xa,l4ar,n4})
for part in 1 2 3 4 5 6 7 8; do
  [ -e "$work/learn$part.npz" ] || "$python" "$here/make_patches.py" "${kits[@]}" \
    --out "$work/learn$part.npz" --pages 160 --seed "10$part"
done
for part in 1 2 3 4; do
  [ -e "$work/held$part.npz" ] || "$python" "$here/make_patches.py" "${kits[@]}" \
    --out "$work/held$part.npz" --pages 120 --seed "70$part" --usual
done
for part in 1 2 3; do
  [ -e "$work/hard$part.npz" ] || "$python" "$here/make_patches.py" "${kits[@]}" \
    --out "$work/hard$part.npz" --pages 100 --seed "90$part" --usual --hard 5
done
train() { "$torch" "$here/train.py" "$work"/learn?.npz --held "$work/held1.npz" "$@"; }
[ -e "$work/first.npz" ] || train --out "$work/first.npz" --epochs 12 --seed 5
[ -e "$work/second.npz" ] || train --out "$work/second.npz" --epochs 12 --seed 7 --start "$work/first.npz"
[ -e "$work/third.npz" ] || train --out "$work/third.npz" --epochs 12 --seed 8 --start "$work/second.npz"
"$python" "$here/calibrate.py" "$work/third.npz" --learned "$work"/learn?.npz \
  --held "$work"/held[234].npz "$work"/hard?.npz --out "$work/mark_nets.npz"
echo "Copy $work/mark_nets.npz over src/sidelong/paper/reading/mark_nets.npz, and renew its digest."
