#!/usr/bin/env python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""What the advice says in cases that a workshop meets, one row a case, by one or two builds of the program.

Usage: cases.py PROGRAM [OLDER_PROGRAM] > cases.md
The marks are those that the first program predicts for the set-up named in the case (`predict --maps`); both programs are asked with the
same files. An option that the older program does not know is left out for it, and the row says so. Standard library only."""

import json
import os
import re
import subprocess
import sys
import tempfile

GEAR_SETS = os.path.join(os.path.dirname(os.path.abspath(__file__)), '..', '..', '..', 'models', 'gear-sets')


def gear_set(name, **changes):
    """A shipped gear set as a dict; a change of None takes the field out, a dict goes into what is there."""
    with open(os.path.join(GEAR_SETS, 'lab-%s.json' % name), encoding='utf-8') as file:
        data = json.load(file)
    for key, value in changes.items():
        if value is None:
            data.pop(key, None)
        elif isinstance(value, dict) and isinstance(data.get(key), dict):
            data[key] = {**data[key], **value}
        else:
            data[key] = value
    return data


SHOP = {'schema': 'shimsight/gear-set/1', 'name': 'what a shop knows', 'teeth': {'pinion': 11, 'ring': 43},
        'ring_gear_diameter_mm': 222, 'offset_mm': 36, 'cut': 'face-milled'}
SMALL_CUTTER = {**SHOP, 'name': 'as it was cut', 'cutter_radius_mm': 63.5}
DEEP = ['--depth', '0.006in', '--constant-backlash']

# (point, what is the case, set that was cut, set that the program is told, errors of the set-up, further options)
CASES = [
    ('best move leads', '0.006 in too deep, small cutter, file without it', SMALL_CUTTER, SHOP, DEEP, ['--backlash', '0.008in']),
    ('best move leads', 'offset 0.009 in off, hobbed set', gear_set('light-truck-rear-axle'), None,
     ['--offset-error=-0.009in', '--constant-backlash'], ['--backlash', '0.004in']),
    ('not known', 'no shim place in the file, 0.006 in too deep', gear_set('unknown-rear-axle', cut='face-milled'), gear_set('unknown-rear-axle'),
     DEEP, ['--backlash', '0.007in']),
    ('not known', 'hobbed set without limits, 0.004 in', gear_set('light-truck-rear-axle'), gear_set('light-truck-rear-axle', limits=None), [],
     ['--backlash', '0.004in']),
    ('adjusters', 'backlash 0.004 in too large, adjusters', gear_set('van-rear-axle-a'), None, ['--backlash-change', '0.004in'],
     ['--backlash', '0.012in']),
    ('adjusters', 'the same, pinion above the centre', gear_set('van-rear-axle-a', build={'pinion': 'above'}), None,
     ['--backlash-change', '0.004in'], ['--backlash', '0.012in']),
    ('crooked gear', 'round the gear 0.001, 0.007, 0.013, 0.007 in', gear_set('van-rear-axle-b'), None, [],
     ['--backlash', '0.007in'] + [x for r in (1, 7, 13, 7) for x in ('--backlash-round', '%dthou' % r)]),
    ('crooked gear', 'no backlash at all', gear_set('van-rear-axle-b'), None, [], ['--backlash', '0in']),
    ('used gears', 'used, nothing from before they came apart', gear_set('van-rear-axle-b'), None, DEEP, ['--backlash', '0.014in', '--used']),
    ('used gears', 'used, marks and 0.012 in from before', gear_set('van-rear-axle-b'), None, DEEP,
     ['--backlash', '0.014in', '--used', '--before-drive-map', 'before/drive.png', '--before-coast-map', 'before/coast.png',
      '--before-backlash', '0.012in']),
    ('preload goes with depth', 'shim under the inner cup, solid spacer', gear_set('delivery-truck-rear-axle'), None, DEEP, ['--backlash', '0.006in']),
    ('preload goes with depth', 'shim under a removable support', gear_set('van-rear-axle-a'), None, DEEP, ['--backlash', '0.008in']),
    ('asked once', 'offset 0.012 in off', gear_set('van-rear-axle-b'), None, ['--offset-error', '0.012in', '--constant-backlash'],
     ['--backlash', '0.007in']),
    ('asked once', 'the same, sides and housing checked', gear_set('van-rear-axle-b'), None,
     ['--offset-error', '0.012in', '--constant-backlash'], ['--backlash', '0.007in', '--checked', 'sides', '--checked', 'housing']),
    ('hours', 'depth right, backlash 0.002 in', gear_set('van-rear-axle-b'), None, ['--backlash-change=-0.005in'], ['--backlash', '0.002in']),
    ('hours', 'marks of the right setting, backlash read 0.002 in', gear_set('van-rear-axle-b'), None, [], ['--backlash', '0.002in']),
    ('one rounding', '0.004 in too shallow', gear_set('pickup-rear-axle'), None, ['--depth=-0.004in', '--constant-backlash'],
     ['--backlash', '0.007in']),
]


# What else is shown of an answer: up to two sentences after the headline with this word.
WORD = {'adjusters': 'notch', 'preload goes with depth': 'reload', 'not known': 'shim', 'asked once': '?', 'used gears': 'before'}


def run(program, arguments):
    return subprocess.run([program] + arguments, capture_output=True, text=True, timeout=120, check=False)


def without_unknown(program, arguments):
    """The options that the program has, and the names of those that it has not."""
    known = run(program, ['advise', '--help']).stdout
    kept, missing, i = [], [], 0
    while i < len(arguments):
        name = arguments[i].split('=')[0]
        takes = '=' not in arguments[i] and i + 1 < len(arguments) and not arguments[i + 1].startswith('--')
        if name in known:
            kept += arguments[i:i + 1 + takes]
        elif name not in missing:
            missing.append(name)
        i += 1 + takes
    return kept, missing


def said(program, gear, folder, options, word):
    """The headline, then up to two further sentences with the word."""
    options, missing = without_unknown(program, options)
    answer = run(program, ['advise', '--gear-set', gear, '--drive-map', os.path.join(folder, 'drive.png'),
                           '--coast-map', os.path.join(folder, 'coast.png')] + options)
    first, *rest = (answer.stdout or answer.stderr).strip().split('\n\n')
    text = ' '.join(first.split())
    if word:
        # The first line of a part is its heading.
        body = ' '.join(line for part in rest for line in part.splitlines()[1:])
        sentences = re.split(r'(?<=[.?]) (?:- )?', ' '.join(body.split()))
        text = ' '.join([text] + [one for one in sentences if word in one and one not in text][:2])
    return text.replace('|', '/') + (' [without %s]' % ', '.join(missing) if missing else '')


def main(programs):
    print('| | case | ' + ' | '.join(['now', 'before'][:len(programs)]) + ' |')
    print('|---|---|' + '---|' * len(programs))
    with tempfile.TemporaryDirectory() as folder:
        gear, cut = os.path.join(folder, 'told.json'), os.path.join(folder, 'cut.json')
        for point, case, truth, told, errors, options in CASES:
            for path, data in ((cut, truth), (gear, told or truth)):
                with open(path, 'w', encoding='utf-8') as file:
                    json.dump(data, file)
            before = os.path.join(folder, 'before')
            for place, moved in ((folder, errors), (before, ['--depth', '0.002in'])):
                drawn = run(programs[0], ['predict', '--gear-set', cut, '--maps', place] + moved)
                if drawn.returncode:
                    sys.exit(drawn.stderr)
            options = [o.replace('before/', before + os.sep) for o in options]
            print('| %s | %s | %s |' % (point, case, ' | '.join(said(p, gear, folder, options, WORD.get(point)) for p in programs)), flush=True)


if __name__ == '__main__':
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    main([os.path.abspath(p) for p in sys.argv[1:3]])
