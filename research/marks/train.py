"""Train the two small networks that look at marks, and write their arrays.

Run, in an environment of its own with PyTorch (2.13 was used) and NumPy:
    python research/marks/train.py TRAIN.npz... --held HELD.npz --out mark_nets.npz --seed 5
The files come from make_patches.py. One network sees colour; the other sees the lightest and the
darkest channel alone, so that a wrong idea about colour does not deceive both.
"""

import argparse
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import torch
from torch import nn
from torch.optim.swa_utils import get_ema_multi_avg_fn as averaging

VIEWS = ("colour", "extremes")
CLASSES = 5
SIDE = 42
PAPER = 240.0
INK = 90.0
SHIFT_PX = 2
EMPTY_FIRST = np.eye(5, dtype=np.float32)[0]
AVERAGED_OVER = 0.998  # weights are averaged over some 500 steps
EMPTIES_KEPT = 0.25  # most targets are empty; the last layer's bias makes up for it
FULL_INK = 90.0
TOLD_FORGOTTEN = 0.1  # share of patches whose network is told nothing of the page's ink
LEAST_EMPTIES = 6  # that the usual target of a page is taken from


Rows = tuple[torch.Tensor, torch.Tensor, torch.Tensor]
"""Patches beside their usual target (n, 6, 42, 42) uint8, ink of their page (n, 2), labels (n,)."""


def as_input(patches: torch.Tensor, view: str) -> torch.Tensor:
    """Scale patches beside their page's usual target, (n, 6, 42, 42): 0 for paper, ink above 1."""
    scaled = (PAPER - patches) / INK
    if view == "colour":
        return scaled
    parts = scaled.unflatten(1, (2, 3))
    return torch.cat([torch.stack([part.amax(1), part.amin(1)], 1) for part in parts.unbind(1)], 1)


class Network(nn.Module):
    """Four convolutions and two full layers; about 127,000 numbers."""

    def __init__(self, view: str) -> None:
        super().__init__()
        self.view = view
        self.layers = nn.ModuleList(
            [
                nn.Conv2d(6 if view == "colour" else 4, 20, 5, 2, 2),
                nn.Conv2d(20, 32, 3, 2, 1),
                nn.Conv2d(32, 40, 3, 1, 1),
                nn.Conv2d(40, 40, 3, 2, 1),
                nn.Linear(40 * 36 + 2, 64),
                nn.Linear(64, CLASSES),
            ]
        )

    def forward(self, patches: torch.Tensor, told: torch.Tensor) -> torch.Tensor:
        """Give logits, shape (n, 5)."""
        x = as_input(patches, self.view)
        for layer in self.layers[:4]:
            x = torch.relu(layer(x))
        x = x.permute(0, 2, 3, 1).flatten(1)  # as NumPy lays it: rows, columns, channels
        x = torch.cat([nn.functional.dropout(x, 0.15, self.training), told], 1)
        x = torch.relu(self.layers[4](x))
        return self.layers[5](nn.functional.dropout(x, 0.15, self.training))


def varied(patches: torch.Tensor, view: str, generator: torch.Generator) -> torch.Tensor:
    """Move, tint and roughen patches, differently each time they are seen."""
    n = len(patches)

    def chance(*shape: int) -> torch.Tensor:
        return torch.rand(*shape, generator=generator)

    wide = nn.functional.pad(patches, [SHIFT_PX] * 4, mode="replicate")
    dx, dy = torch.randint(0, 2 * SHIFT_PX + 1, (2,), generator=generator).tolist()
    moved = wide[:, :, dy : dy + SIDE, dx : dx + SIDE]
    per_colour = (chance(n, 3, 1, 1) - 0.5) * 0.08
    gain = 1 + per_colour.repeat(1, 2, 1, 1) + (chance(n, 1, 1, 1) - 0.5) * 0.16
    contrast = torch.exp((chance(n, 1, 1, 1) - 0.5) * 0.3)
    moved = PAPER + (moved * gain - PAPER) * contrast
    if view == "colour" and float(chance(1)) < 0.2:
        order = torch.randperm(3, generator=generator)
        moved = moved[:, torch.cat([order, order + 3])]
    kind = float(chance(1))
    if kind < 0.25:
        soft = nn.functional.avg_pool2d(moved, 3, 1, 1, count_include_pad=False)
        moved = soft if kind < 0.15 else moved + (moved - soft) * 8 * (kind - 0.15)
    if float(chance(1)) < 0.5:
        moved = moved.flip(3)
    noise = torch.randn(moved.shape, generator=generator) * chance(n, 1, 1, 1) ** 3 * 12
    noise[:, 3:] *= 0.2  # a median of many is smooth
    return (moved + noise).clamp(0, 255)


def usual_targets(patches: np.ndarray, stored: dict[str, np.ndarray]) -> np.ndarray:
    """Give every row the median of its page's targets; of the empty ones where many are marked."""
    usual = np.empty_like(patches)
    is_target, is_empty = ~stored["gap"], ~stored["gap"] & (stored["label"] == 0)
    for page in np.unique(stored["page"]):
        own = stored["page"] == page
        chosen = own & is_target
        if LEAST_EMPTIES <= (own & is_empty).sum() < 0.7 * chosen.sum():
            chosen = own & is_empty
        usual[own] = np.median(patches[chosen], axis=0).astype(np.uint8)
    return usual


def read(paths: list[Path], *, without: Sequence[str] = ()) -> Rows:
    """Read several files, some pens or styles held back."""
    patches, told, labels = [], [], []
    for path in paths:
        with np.load(path, allow_pickle=False) as file:
            stored = {name: file[name] for name in file.files}
        seen = stored["patch"]
        usual = usual_targets(seen, stored)
        keep = ~(np.isin(stored["pen"], without) | np.isin(stored["style"], without))
        keep &= (stored["label"] >= 0) & (stored["visible"] > 0.95)
        patches.append(np.concatenate([seen[keep], usual[keep]], axis=3))
        told.append(np.stack([stored["ink"] / FULL_INK, stored["ink"] > 0], axis=1)[keep])
        labels.append(stored["label"][keep])
    return (
        torch.from_numpy(np.concatenate(patches)).permute(0, 3, 1, 2).contiguous(),
        torch.from_numpy(np.concatenate(told)).float(),
        torch.from_numpy(np.concatenate(labels)).long(),
    )


def train(
    view: str,
    data: Rows,
    held: Rows,
    *,
    epochs: int,
    seed: int,
    save: Path,
    start: Path | None = None,
) -> None:
    """Train one network, from ``start`` if that is given; write its arrays after every epoch."""
    torch.manual_seed(seed)
    generator = torch.Generator().manual_seed(seed)
    patches, told, labels = data
    net = Network(view).to(memory_format=torch.channels_last)
    if start:
        take_up(net, start)
    smooth = torch.optim.swa_utils.AveragedModel(net, multi_avg_fn=averaging(AVERAGED_OVER))
    batch, empties_kept = 128, EMPTIES_KEPT
    n_kept = int((labels != 0).sum() + empties_kept * (labels == 0).sum())
    steps = epochs * (n_kept // batch + 1)
    optimiser = torch.optim.AdamW(net.parameters(), lr=2e-3, weight_decay=1e-2)
    schedule = torch.optim.lr_scheduler.OneCycleLR(
        optimiser, 2.5e-3, total_steps=steps + 10, pct_start=0.1
    )
    for epoch in range(epochs):
        start, total = time.time(), 0.0
        keep = (labels != 0) | (torch.rand(len(labels), generator=generator) < empties_kept)
        order = torch.nonzero(keep).flatten()
        order = order[torch.randperm(len(order), generator=generator)]
        net.train()
        for rows in order.split(batch):
            seen = varied(patches[rows].float(), view, generator)
            seen = seen.contiguous(memory_format=torch.channels_last)
            known = torch.rand(len(rows), 1, generator=generator) > TOLD_FORGOTTEN
            with torch.autocast("cpu", dtype=torch.bfloat16):
                logits = net(seen, told[rows] * known)
            loss = nn.functional.cross_entropy(logits.float(), labels[rows])
            optimiser.zero_grad()
            loss.backward()
            optimiser.step()
            schedule.step()
            smooth.update_parameters(net)
            total += float(loss.detach()) * len(rows)
        np.savez(save, **arrays_of(smooth.module))
        report(
            smooth.module,
            held,
            f"{view} {epoch} {total / len(order):.4f} {time.time() - start:.0f} s",
        )


def take_up(net: Network, start: Path) -> None:
    """Go on from arrays that were written before."""
    with np.load(start, allow_pickle=False) as stored, torch.no_grad():
        for place, layer in enumerate(net.layers):
            laid = torch.from_numpy(stored[f"{net.view}.{place}.weight"].astype(np.float32))
            laid = laid.permute(3, 2, 0, 1) if laid.ndim == 4 else laid.T
            if laid.shape != layer.weight.shape:  # nothing was known of the ink
                laid = nn.functional.pad(laid, [0, layer.weight.shape[1] - laid.shape[1]])
            layer.weight.copy_(laid)
            layer.bias.copy_(torch.from_numpy(stored[f"{net.view}.{place}.bias"]))
        net.layers[-1].bias[0] += np.log(EMPTIES_KEPT)


def report(net: Network, held: Rows, title: str) -> None:
    """Print loss on held patches, and how empty and marked are confused."""
    net.eval()
    with torch.no_grad():
        parts = zip(held[0].split(2048), held[1].split(2048), strict=True)
        logits = torch.cat([net(part.float(), told) for part, told in parts])
    loss = float(nn.functional.cross_entropy(logits, held[2]))
    best = logits.argmax(1)
    table = torch.zeros(CLASSES, CLASSES, dtype=torch.long)
    table.index_put_((held[2], best), torch.ones_like(best), accumulate=True)
    print(title, f"held {loss:.4f}", table.tolist(), flush=True)


def arrays_of(net: Network) -> dict[str, np.ndarray]:
    """Lay the weights as NumPy multiplies them: (kernel rows, columns, in, out)."""
    arrays = {}
    for place, layer in enumerate(net.layers):
        weight = layer.weight.detach().numpy()
        laid = weight.transpose(2, 3, 1, 0) if weight.ndim == 4 else weight.T
        arrays[f"{net.view}.{place}.weight"] = np.ascontiguousarray(laid, np.float16)
        arrays[f"{net.view}.{place}.bias"] = layer.bias.detach().numpy().astype(np.float32)
    arrays[f"{net.view}.{len(net.layers) - 1}.bias"] -= EMPTY_FIRST * np.log(EMPTIES_KEPT)
    return arrays


def main() -> None:
    """Train both and write one file."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("train", type=Path, nargs="+")
    parser.add_argument("--held", type=Path, nargs="+", required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--start", type=Path, help="go on from arrays of an earlier run")
    parser.add_argument("--without", nargs="*", default=[], help="pens and styles to hold back")
    parser.add_argument("--view", nargs="+", choices=VIEWS, default=VIEWS)
    parser.add_argument("--epochs", type=int, default=12)
    parser.add_argument("--seed", type=int, default=5)
    chosen = parser.parse_args()
    torch.set_num_threads(1)
    data, held = read(chosen.train, without=chosen.without), read(chosen.held)
    arrays: dict[str, np.ndarray] = {}
    for place, view in enumerate(VIEWS):
        if view not in chosen.view:
            continue
        save = chosen.out.with_suffix(f".{view}.npz")
        start = chosen.start and chosen.start.with_suffix(f".{view}.npz")
        options = {"epochs": chosen.epochs, "seed": chosen.seed + place, "save": save}
        train(view, data, held, start=start, **options)
        with np.load(save, allow_pickle=False) as stored:
            arrays |= {name: stored[name] for name in stored.files}
    np.savez(chosen.out, **arrays)


if __name__ == "__main__":
    main()
