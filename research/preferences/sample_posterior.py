"""Sample the exact posterior of 30 simulated trainees with a general-purpose sampler (NUTS).

An answer from outside to hold the estimate against. It needs NumPyro, which the package itself
does not: `script/golden` makes a throw-away environment with it (`requirements.txt` beside this
file) and runs this file, which takes about two CPU minutes. The model is written here a second
time, independently of the package: unit normals for every source of chance, and the answers'
chances on top. The hyperparameters are fixed at the values of the package's default with a few
effects added.
"""

import argparse
import json
import time
from dataclasses import replace
from pathlib import Path

import jax
import jax.numpy as jnp
import numpy as np
import numpyro
from jax.scipy.special import log_ndtr
from numpyro import distributions as dist
from numpyro.diagnostics import effective_sample_size, split_gelman_rubin
from numpyro.infer import MCMC, NUTS

from sidelong import __version__
from sidelong.preferences import DEFAULT, Conduct, Courses, Hyperparameters, simulate_courses

OUT = Path(__file__).parents[2] / "tests" / "golden" / "preferences" / "nuts.json"
TRUTH = replace(
    DEFAULT,
    position_means=(0.2, -0.1, 0.0, 0.1, -0.3),
    carryover_effects=(0.1, -0.1, 0.0, 0.1, -0.1),
    choice_again=0.5,
)


def draw_courses(seed: int) -> Courses:
    """Draw 30 trainees on all four forms, with gaps as families leave them."""
    rng = np.random.default_rng(seed)
    orders = np.argsort(rng.random((30, 14, 5)), axis=2)
    return simulate_courses(
        orders,
        hyperparameters=TRUTH,
        rng=rng,
        scale=np.resize([5, 5, 5, 4, 3, 2], 30),
        piece_mm=rng.choice([4.0, 5.0, 6.0], (30, 14)),
        conduct=Conduct(missing_night=0.2),
    ).courses


def log_interval(low: jnp.ndarray, high: jnp.ndarray) -> jnp.ndarray:
    """Log of the normal chance between two cut points, from the nearer tail."""
    flip = low + high > 0
    a, b = jnp.where(flip, -high, low), jnp.where(flip, -low, high)
    upper, lower = log_ndtr(b), log_ndtr(a)
    return upper + jnp.log1p(-jnp.exp(jnp.minimum(lower - upper, -1e-12)))


def effects(courses: Courses, h: Hyperparameters) -> np.ndarray:
    """Sum what is known of every piece."""
    nights = np.arange(courses.n_nights)
    rise = np.expm1(-h.learning_rate * nights) / np.expm1(-13 * h.learning_rate)
    sizes = np.where(np.isnan(courses.piece_mm), 5.0, courses.piece_mm)
    total = np.array(h.position_means) + h.learning_gain * rise[:, None]
    total = total + np.array((0.0, *h.slot_effects))[courses.slot]
    total = total + np.array((*h.carryover_effects, 0.0))[courses.previous]
    total = total + h.carryover_failed * courses.previous_failed
    return total + h.size_effect * (sizes - 5.0)


def rating_edges(courses: Courses, h: Hyperparameters) -> tuple[np.ndarray, np.ndarray]:
    """Look up the cut points around every rating; a blank gets the widest."""
    low, high = np.full(courses.rating.shape, -40.0), np.full(courses.rating.shape, 40.0)
    answers = {5: (1, 2, 3, 4, 5), 4: (1, 2, 4, 5), 3: (1, 3, 5), 2: (2, 4)}
    for form, cuts in h.thresholds.items():
        edges = (-40.0, *cuts, 40.0)
        for place, answer in enumerate(answers[form]):
            here = (courses.rating == answer) & (courses.scale == form)[:, None, None]
            low[here], high[here] = edges[place], edges[place + 1]
    return low, high


def model(courses: Courses, h: Hyperparameters, known: np.ndarray) -> None:
    """Describe the answers as the method page does."""
    n, nights, k = courses.slot.shape

    def normal(name: str, *shape: int) -> jnp.ndarray:
        return numpyro.sample(name, dist.Normal(0, 1).expand(shape).to_event(len(shape)))

    first = h.level_sd * normal("level", n, 1, 1) + h.spread_sd * normal("own", n, 1, k)
    steps = h.level_drift_sd * normal("level_drift", n, nights, 1)
    steps = steps + h.drift_sd * normal("drift", n, nights, k)
    ease = jnp.concatenate([first, first + jnp.cumsum(steps, axis=1)], axis=1)
    numpyro.deterministic("next", ease[:, -1] + np.array(h.position_means))
    z = known + ease[:, :-1] + h.night_sd * normal("night", n, nights, 1)
    z = z + h.piece_sd * normal("piece", n, nights, k)
    low, high = rating_edges(courses, h)
    given = courses.rating > 0
    numpyro.factor("rating", jnp.sum(jnp.where(given, log_interval(low - z, high - z), 0.0)))
    below, above = h.went_cuts
    down_no = jax.nn.sigmoid(below - h.went_slope * z)
    down_later = jax.nn.sigmoid(above - h.went_slope * z)
    for code, chance in ((3, down_no), (2, down_later - down_no), (1, 1.0 - down_later)):
        given = courses.went_down == code
        numpyro.factor(f"went_{code}", jnp.sum(jnp.where(given, jnp.log(chance + 1e-30), 0.0)))
    named = courses.felt_best[:, :, None] == np.arange(k)
    last = np.full((n, nights), -1)
    for night in range(1, nights):
        now = courses.felt_best[:, night - 1]
        last[:, night] = np.where(now >= 0, now, last[:, night - 1])
    may = ((courses.slot > 0) & (courses.went_down != 3)) | named
    utility = h.choice_slope * z + h.choice_again * (last[:, :, None] == np.arange(k))
    share = jax.nn.log_softmax(jnp.where(may, utility, -1e6), axis=2)
    numpyro.factor("named", jnp.sum(jnp.where(named, share, 0.0)))


def main() -> None:
    """Sample and store."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seed", type=int, default=20240601)
    parser.add_argument("--warmup", type=int, default=500)
    parser.add_argument("--samples", type=int, default=1500)
    parser.add_argument("--chains", type=int, default=2)
    options = parser.parse_args()
    begun = time.process_time()
    jax.config.update("jax_enable_x64", True)
    courses = draw_courses(options.seed)
    sampler = MCMC(
        NUTS(model, max_tree_depth=8),
        num_warmup=options.warmup,
        num_samples=options.samples,
        num_chains=options.chains,
        chain_method="sequential",
        progress_bar=False,
    )
    sampler.run(jax.random.PRNGKey(options.seed), courses, TRUTH, effects(courses, TRUTH))
    draws = np.asarray(sampler.get_samples(group_by_chain=True)["next"])
    best = np.eye(5)[draws.argmax(axis=3)]
    flat = draws.reshape(-1, *draws.shape[2:])
    golden = {
        "command": "script/golden",
        "sampler": f"NumPyro {numpyro.__version__}, JAX {jax.__version__}",
        "version": __version__,
        "seed": options.seed,
        "warmup": options.warmup,
        "chains": options.chains,
        "draws": int(flat.shape[0]),
        "cpu_seconds": round(time.process_time() - begun),
        "smallest_effective_sample": float(effective_sample_size(draws).min()),
        "largest_rhat": float(split_gelman_rubin(draws).max()),
        "p_best": best.mean(axis=(0, 1)).round(5).tolist(),
        "mean": flat.mean(axis=0).round(5).tolist(),
        "sd": flat.std(axis=0).round(5).tolist(),
    }
    OUT.parent.mkdir(parents=True, exist_ok=True)
    OUT.write_text(json.dumps(golden) + "\n", encoding="utf-8")
    print({k: v for k, v in golden.items() if not isinstance(v, list)})


if __name__ == "__main__":
    main()
