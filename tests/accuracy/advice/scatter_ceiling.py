# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Whether one trial can tell how widely its world scatters: scatter_ceiling.py draws.csv (from scatter_draws).

A reader that has seen thousands of trials of worlds of scatter 1, 1.5 and 2, as many of each, each with its truth, learns the depth
and how far off it is likely to be (regression on squares and products, then boosted trees; one of them on the size of the misses). Its intervals are
the depth +- a factor x that size, the factor such that nine in ten hold over all. How many hold in each world is what is asked: a
reader that could tell the scatter would hold 90 % in each. Needs Debian's python3-numpy, python3-sklearn."""
import sys
import numpy as np
from sklearn.ensemble import HistGradientBoostingRegressor
from sklearn.linear_model import RidgeCV
from sklearn.model_selection import KFold, cross_val_predict
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import PolynomialFeatures, StandardScaler


def trees(leaves):
    return HistGradientBoostingRegressor(max_iter=200, learning_rate=.05, max_leaf_nodes=leaves, l2_regularization=1.)


def main(name):
    rows = [line.strip().split(',') for line in open(name)]
    for cut in ('milled', 'hobbed'):
        table = np.array([[float(x) for x in row[1:]] for row in rows if row[0] == cut])
        scatter, depth, seen = table[:, 0], table[:, 1], table[:, 2:]
        folds = KFold(5, shuffle=True, random_state=1)
        smooth = make_pipeline(StandardScaler(), PolynomialFeatures(2, include_bias=False), StandardScaler(), RidgeCV(np.logspace(0, 4, 9)))
        told = cross_val_predict(smooth, seen, depth, cv=folds)
        inputs = np.column_stack([seen, told])
        told = told + cross_val_predict(trees(8), inputs, depth - told, cv=folds)
        miss = np.abs(depth - told)
        size = np.exp(cross_val_predict(trees(8), inputs, np.log(miss + 1e-3), cv=folds))
        ratio = miss / size
        factor = np.quantile(ratio, .9)
        guess = cross_val_predict(trees(8), inputs, scatter, cv=folds)
        print('%s, %d trials: depth told to %.3f, %.3f, %.3f mm rms at scatter 1, 1.5, 2' % (
            (cut, len(depth)) + tuple(np.sqrt(np.mean(miss[scatter == s] ** 2)) for s in (1, 1.5, 2))))
        print('  nine in ten over all: %.1f, %.1f, %.1f %%' % tuple(100 * np.mean(ratio[scatter == s] <= factor) for s in (1, 1.5, 2)))
        wide = np.quantile(ratio[scatter == 2], .87)
        print('  wide enough for 87 %% at scatter 2: %.1f, %.1f, %.1f %%' % tuple(100 * np.mean(ratio[scatter == s] <= wide) for s in (1, 1.5, 2)))
        print('  scatter itself as told: %.2f, %.2f, %.2f (spread %.2f)' % (tuple(np.mean(guess[scatter == s]) for s in (1, 1.5, 2)) + (np.std(guess[scatter == 1]),)))


if __name__ == '__main__':
    main(sys.argv[1])
