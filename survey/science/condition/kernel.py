"""Filter, smoother and counts of some trees, one month after the other, to be compiled.

The same arithmetic as `chain.Run` and `counts.count`, written out in single numbers, because a
compiler makes of that a loop that needs no memory for whole columns. It runs as it stands, slowly,
and is meant to be handed to numba by `compiled`.
"""

import numpy as np

FEW = 8
"""Up to so many looks in a month are multiplied as they are; of more the logarithms are added."""

FLOOR = 1e-100
"""e to the power of `likelihood.FLOOR`: 1.1e-100 there, and neither is ever reached but by hundreds
of looks that contradict each other."""

NOTHING = 1e-290


def pass_over(  # type: ignore[no-untyped-def]  # a compiler reads its types from the call
    begin, end, offsets, first, age, site, cohort, later,
    look_at, look_code, look_observer, look_complaint, look_sure, looks_from,
    care_at, care_from, logged_at, logged_from, south,
    signal, rest, word, rho, noise, sure_trust, sure_noise, quiet, exposed, visits, lam,
    worse, death, better, removed, removal, fall_worse, fall_death, rise,
    cohort_factor, site_factor, logged, start, most, unlogged, age_end_1, age_end_2, floor_log,
    started, moves, exposure, live, worsened, died, risen, complaints, silent, watched, right,
    fallen, expected, likelihood, filtered, smoothed,
):  # fmt: skip
    """Pass over the trees from `begin` to `end`. The last two lines of arguments are filled in:
    sums are added to; `fallen`, `expected` and `likelihood` have a place a tree. `filtered` and
    `smoothed` have a row a tree-month counted from that of `begin`, or no row if not wanted.
    """
    longest = 0
    for tree in range(begin, end):
        longest = max(longest, offsets[tree + 1] - offsets[tree])
    factor = np.empty((longest, 6))
    ahead = np.empty((longest, 6))
    now = np.empty((longest, 6))
    after = np.empty((longest, 6))
    chance = np.empty((longest, 21))
    cells = np.empty(longest, dtype=np.int64)
    ratio = np.empty(6)
    back = np.empty(6)
    logs = np.empty(6)
    wanted = len(filtered) > 0
    base = offsets[begin]

    for tree in range(begin, end):
        at = offsets[tree]
        length = offsets[tree + 1] - at
        place = site[tree]
        own = site_factor[place] * cohort_factor[cohort[tree]]
        look = looks_from[tree]
        last_look = looks_from[tree + 1]
        care = care_from[tree]
        log = logged_from[tree]
        total = 0.0
        held = 1.0

        for step in range(length):
            month = (first[tree] + step) % 12
            warm = 1 if ((3 <= month < 9) != south) else 0
            years = age[tree] + step
            of_age = 0 if years <= age_end_1 else (1 if years <= age_end_2 else 2)
            cared = 0
            if care < care_from[tree + 1] and care_at[care] == at + step:
                cared = 1
                care += 1
            was_logged = False
            if log < logged_from[tree + 1] and logged_at[log] == at + step:
                was_logged = True
                log += 1
            cell = (of_age * 2 + warm) * 2 + cared
            cells[step] = cell

            # what was seen in this month
            for state in range(6):
                factor[step, state] = quiet[place * 2 + warm, state]
            until = look
            while until < last_look and look_at[until] == at + step:
                until += 1
            if until > look:
                for state in range(6):
                    logs[state] = 0.0 if until - look > FEW else 1.0
                for one in range(look, until):
                    code = look_code[one]
                    who = look_observer[one]
                    said = word[code]
                    trust = sure_trust if look_sure[one] else rho[who]
                    astray = sure_noise[said] if look_sure[one] else noise[who, said]
                    astray *= (1.0 - trust) * rest[code]
                    for state in range(6):
                        seen = trust * signal[code, state] + astray
                        if look_complaint[one]:
                            seen *= lam[state]
                        if until - look > FEW:
                            logs[state] += np.log(seen)
                        else:
                            logs[state] *= seen
                top = logs[0]
                for state in range(1, 6):
                    top = max(top, logs[state])
                for state in range(6):
                    if until - look > FEW:
                        factor[step, state] *= np.exp(max(logs[state] - top, floor_log))
                    else:
                        factor[step, state] *= max(logs[state] / top, FLOOR)
                total += top if until - look > FEW else np.log(top)
                look = until

            # where it was ahead of that
            if step == 0:
                for state in range(6):
                    ahead[0, state] = start[1 if later[tree] else 0, state]
                    if was_logged:
                        ahead[0, state] *= logged if state == 5 else unlogged
            else:
                up = rise[cell & 3]
                down = fall_worse[cell] * own
                dying = fall_death[cell] * own
                # rows of chance: stay 0-5, better 6-8, worse 9-11, death 12-15, gone 16-20
                for state in range(4):
                    rises = better[state - 1] * up if state > 0 else 0.0
                    falls = worse[state] * down if state < 3 else 0.0
                    dies = death[state] * dying
                    goes = removed
                    leave = dies + goes + falls + rises
                    if leave > most:
                        cut = most / leave
                        rises *= cut
                        falls *= cut
                        dies *= cut
                        goes *= cut
                        leave *= cut
                    chance[step, state] = 1.0 - leave
                    if state > 0:
                        chance[step, 5 + state] = rises
                    if state < 3:
                        chance[step, 9 + state] = falls
                    chance[step, 12 + state] = dies
                    chance[step, 16 + state] = goes
                chance[step, 4] = 1.0 - removal
                chance[step, 5] = 1.0
                chance[step, 20] = removal
                told = logged if was_logged else 1.0 - logged
                for row in range(16, 21):
                    chance[step, row] *= told
                if was_logged:
                    for row in range(16):
                        chance[step, row] *= unlogged
                p = now[step - 1]
                c = chance[step]
                f = ahead[step]
                f[0] = p[0] * c[0] + p[1] * c[6]
                f[1] = p[1] * c[1] + p[2] * c[7] + p[0] * c[9]
                f[2] = p[2] * c[2] + p[3] * c[8] + p[1] * c[10]
                f[3] = p[3] * c[3] + p[2] * c[11]
                f[4] = p[4] * c[4] + (p[0] * c[12] + p[1] * c[13] + p[2] * c[14] + p[3] * c[15])
                f[5] = p[5] * c[5] + (
                    p[0] * c[16] + p[1] * c[17] + p[2] * c[18] + p[3] * c[19] + p[4] * c[20]
                )
            scale = 0.0
            for state in range(6):
                scale += ahead[step, state] * factor[step, state]
            for state in range(6):
                now[step, state] = ahead[step, state] * factor[step, state] / scale
            held *= scale
            if held < 1e-200 or held > 1e200:
                total += np.log(held)
                held = 1.0
        likelihood[tree - begin] = total + np.log(held)

        # back from the last month, counting on the way
        falling = 0.0
        awaited = 0.0
        for state in range(6):
            after[length - 1, state] = now[length - 1, state]
        for step in range(length - 1, 0, -1):
            c = chance[step]
            p = now[step - 1]
            g = after[step - 1]
            cell = cells[step]
            for state in range(6):
                f = ahead[step, state]
                ratio[state] = after[step, state] / f if f >= NOTHING else 0.0
            for state in range(6):
                back[state] = c[state] * ratio[state]
            for state in range(3):
                back[state + 1] += c[6 + state] * ratio[state]
                back[state] += c[9 + state] * ratio[state + 1]
            for state in range(4):
                back[state] += c[12 + state] * ratio[4]
            for state in range(5):
                back[state] += c[16 + state] * ratio[5]
            whole = 0.0
            for state in range(6):
                g[state] = back[state] * p[state]
                whole += g[state]
            if whole < 0.5:
                whole = 0.0
                for state in range(6):
                    g[state] = p[state]
                    whole += g[state]
            for state in range(6):
                g[state] /= whole

            worse_now = 0.0
            death_now = 0.0
            risen_now = 0.0
            for state in range(3):
                one_worse = p[state] * c[9 + state] * ratio[state + 1]
                one_better = p[state + 1] * c[6 + state] * ratio[state]
                moves[state] += one_worse
                moves[7 + state] += one_better
                worse_now += one_worse
                risen_now += one_better
            gone_now = 0.0
            for state in range(4):
                one_death = p[state] * c[12 + state] * ratio[4]
                moves[3 + state] += one_death
                death_now += one_death
                gone_now += p[state] * c[16 + state] * ratio[5]
            dead_gone = p[4] * c[20] * ratio[5]
            moves[10] += gone_now
            moves[11] += dead_gone
            if logged_from[tree] < logged_from[tree + 1]:
                for one in range(logged_from[tree], logged_from[tree + 1]):
                    if logged_at[one] == at + step:
                        moves[12] += gone_now + dead_gone
            moves[13] += g[4]
            worsened[cell] += worse_now
            died[cell] += death_now
            risen[cell & 3] += risen_now
            falling += worse_now + death_now
            rate_worse = worse[0] * g[0] + worse[1] * g[1] + worse[2] * g[2]
            rate_death = death[0] * g[0] + death[1] * g[1] + death[2] * g[2] + death[3] * g[3]
            awaited += rate_worse * fall_worse[cell] + rate_death * fall_death[cell]
            for state in range(4):
                exposure[state, cell] += g[state] * own
                live[state, cell & 3] += g[state]
        fallen[tree - begin] = falling
        expected[tree - begin] = awaited
        kind = 1 if later[tree] else 0
        for state in range(6):
            started[kind, state] += after[0, state]

        for step in range(length):
            warm = (cells[step] >> 1) & 1
            shown = exposed[place, warm]
            visit = 0.0
            for state in range(6):
                silent[state] += after[step, state] * shown
                visit += after[step, state] * lam[state]
            watched[place] += visit * visits[warm]
            if wanted:
                row = at - base + step
                for state in range(6):
                    filtered[row, state] = now[step, state]
                    smoothed[row, state] = after[step, state]
        for one in range(looks_from[tree], last_look):
            step = look_at[one] - at
            if look_complaint[one]:
                for state in range(6):
                    complaints[state] += after[step, state]
            if not look_sure[one]:
                code = look_code[one]
                who = look_observer[one]
                astray = (1.0 - rho[who]) * noise[who, word[code]] * rest[code]
                meant = 0.0
                for state in range(6):
                    by_table = rho[who] * signal[code, state]
                    meant += after[step, state] * by_table / (by_table + astray)
                right[who] += meant
    for tree in range(end - begin):
        moves[14] += likelihood[tree]
