# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""How much of the pinion depth any reader can know in the second world, whatever its model of gears.

A reader that has seen many jobs of this very world, each with its truth, learns to tell the depth from both marks' figures, the backlash
and all that was read and moved before (ridge regression on squares and products, then boosted trees on what that leaves; every job is
judged by models that did not see it). It knows the world's own distributions, which no shop and no product does. What it cannot tell
is not in the marks' figures. The same reader is asked to stop, too: it leaves a set where the depth that it tells is smaller than a
bound and the backlash is right.

Usage: ceiling.py FOLDER [JOBS] [SEED] [--wide]
FOLDER holds jobs_played.py and contact_model.py. JOBS: jobs a gear set. Needs Debian's python3-numpy, -scipy, -pil, -sklearn.
Lengths in mm, depths + too deep."""
import os, sys, tempfile
import numpy as np
from PIL import Image
from sklearn.ensemble import HistGradientBoostingRegressor
from sklearn.linear_model import RidgeCV
from sklearn.model_selection import KFold, cross_val_predict
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import PolynomialFeatures, StandardScaler

THOU, TRIALS, BACKLASH = .0254, 5, .18
LEAVE_BELOW = (.5, 1., 1.5)  # thousandths: what a reader that also stops takes for right


def figures(path):
    """What a mark shows: middle, ends, spread, slant, area, how much of each edge it reaches; 22 figures."""
    mark = np.asarray(Image.open(path), float) / 255
    height, width = mark.shape
    total = mark.sum()
    if total < 20:
        return np.zeros(22)
    u, v = np.meshgrid((np.arange(width) + .5) / width, 1 - (np.arange(height) + .5) / height)
    mean = lambda x: (x * mark).sum() / total
    mu, mv = mean(u), mean(v)
    along, up = mark.sum(0).cumsum() / total, mark.sum(1)[::-1].cumsum() / total
    ends = [np.searchsorted(along, q) / width for q in (.02, .1, .5, .9, .98)]
    ends += [np.searchsorted(up, q) / height for q in (.02, .1, .5, .9, .98)]
    edges = [mark[:, :6].mean(), mark[:, -6:].mean(), mark[:4].mean(), mark[-4:].mean()]
    moments = [mean((u - mu) ** 2), mean((v - mv) ** 2), mean((u - mu) * (v - mv)), mean((u - mu) ** 3), mean((v - mv) ** 3)]
    return np.array([mu, mv, total / mark.size] + ends + edges + moments)


def told(inputs, truth, seed):
    """The depth as told for each job by models that did not see it."""
    folds = KFold(5, shuffle=True, random_state=seed)
    smooth = make_pipeline(StandardScaler(), PolynomialFeatures(2, include_bias=False), StandardScaler(), RidgeCV(np.logspace(0, 4, 9)))
    first = cross_val_predict(smooth, inputs, truth, cv=folds)
    trees = HistGradientBoostingRegressor(max_iter=150, learning_rate=.05, max_leaf_nodes=8, l2_regularization=1.)
    return first + cross_val_predict(trees, np.column_stack([inputs, first]), truth - first, cv=folds)


def sureness(inputs, miss, seed):
    trees = HistGradientBoostingRegressor(max_iter=60, learning_rate=.05, max_leaf_nodes=6)
    return cross_val_predict(trees, inputs, np.abs(miss), cv=KFold(5, shuffle=True, random_state=seed + 1))


class Leaving:
    """A reader that stops, followed over the jobs of one that does not: what it leaves stays as it is."""

    def __init__(self, bound, jobs):
        self.bound, self.left, self.right_at_end, self.ever = bound, np.zeros(jobs, bool), np.zeros(jobs, bool), np.zeros(jobs, bool)
        self.corrections, self.idle, self.after = np.zeros(jobs), np.zeros(jobs), []

    def see(self, now, backlash_right, right, trial):
        going = ~self.left
        self.ever |= going & right
        self.after.append(self.ever.mean())
        leaves = going & (np.abs(now) < self.bound) & backlash_right
        self.right_at_end |= leaves & right
        self.left |= leaves
        if trial + 1 < TRIALS:
            self.corrections += ~self.left
            self.idle += ~self.left & right  # of a set that is right already

    def told(self):
        off = self.left & ~self.right_at_end
        return dict(bound=self.bound / THOU, left=self.left.mean(), off=off.sum() / max(1, self.left.sum()), corrections=self.corrections.mean(), idle=self.idle.mean(),
                    **{'after_%d' % k: self.after[k] for k in (1, 2, 3)})


def play(world_module, gear, jobs, seed, wide, folder):
    rng = np.random.default_rng(seed)
    pair, _ = world_module.make_pair(gear)
    worlds = [world_module.World(pair, gear, rng, wide) for _ in range(jobs)]
    known, before, rows = None, [], []
    ever_right = np.zeros(jobs, bool)
    leaving = [Leaving(bound * THOU, jobs) for bound in LEAVE_BELOW]
    for trial in range(TRIALS):
        seen = []
        for world in worlds:
            world.film = world_module.FILM * rng.lognormal(0, .2)
            drive, coast = world.maps(folder)
            seen.append(np.concatenate([figures(drive), figures(coast), [world.backlash + rng.normal(0, .008)]]))
        seen, truth = np.array(seen), np.array([world.depth for world in worlds])
        backlash = np.array([world.backlash for world in worlds])
        backlash_right = (backlash >= .12) & (backlash <= .24)
        right = (np.abs(truth) <= world_module.RIGHT_DEPTH) & backlash_right
        ever_right |= right
        # What the trials before told of the depth now, and how they looked on the average.
        inputs = np.column_stack([seen] + ([known, np.mean(before, 0)] if trial else []))
        now = told(inputs, truth, seed)
        miss = truth - now
        sure = sureness(np.column_stack([inputs, now]), miss, seed)
        rows.append(dict(ever=ever_right.mean(), rms=miss.std(), within=(np.abs(miss) <= world_module.RIGHT_DEPTH).mean(),
                         surest=(np.abs(miss) <= world_module.RIGHT_DEPTH)[np.argsort(sure)[:int(.9 * jobs)]].mean()))
        for one in leaving: one.see(now, backlash_right, right, trial)
        before.append(seen)
        step = np.round(-now / THOU) * THOU
        for world, move in zip(worlds, step):
            if move: world.depth += move + rng.normal(0, .01)
            world.backlash = BACKLASH + rng.normal(0, .015)
        known = now + step
    return rows, [one.told() for one in leaving]


def main(folder, jobs=1600, seed=1, wide=False):
    sys.path.insert(0, os.path.abspath(folder))
    import jobs_played
    rows, stopping = [], []
    with tempfile.TemporaryDirectory() as scratch:
        for name, gear in jobs_played.GEAR_SETS.items():
            going, left = play(jobs_played, gear, jobs, seed, wide, scratch)
            rows.append(going)
            stopping.append(left)
            for trial, row in enumerate(going):
                print('%-32s trial %d: ' % (name, trial + 1) + ', '.join('%s %.3f' % item for item in row.items()), flush=True)
            for row in left: print('%-32s stops: ' % name + ', '.join('%s %.3f' % item for item in row.items()), flush=True)
    mean_of = lambda table, place: {key: np.mean([row[place][key] for row in table]) for key in table[0][0]}
    for trial in range(TRIALS):
        mean = mean_of(rows, trial)
        print('all sets, trial %d: right at some time so far %.1f %%, depth told to %.3f mm rms, within 2 thousandths %.1f %%, of the surest nine in ten %.1f %%'
              % (trial + 1, 100 * mean['ever'], mean['rms'], 100 * mean['within'], 100 * mean['surest']), flush=True)
    for place in range(len(LEAVE_BELOW)):
        mean = mean_of(stopping, place)
        print('all sets, stops below %.1f thousandths: leaves %.1f %%, of them off %.1f %%; right at some time after 1, 2, 3: %.1f, %.1f, %.1f %%; %.2f corrections a job, %.2f of them of a set that was right'
              % (mean['bound'], *[100 * mean[key] for key in ('left', 'off', 'after_1', 'after_2', 'after_3')], mean['corrections'], mean['idle']), flush=True)


if __name__ == '__main__':
    arguments = sys.argv[1:]
    main(arguments[0], *[int(x) for x in arguments[1:] if x.isdigit()], wide='--wide' in arguments)
