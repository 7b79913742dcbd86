import { describe, expect, it } from 'vitest';
import { changeOf } from '../../src/verify/change.js';
import { groupsOf } from '../../src/verify/groups.js';
import type { PullTrace } from '../../src/verify/pull.js';
import { type Made, type Sessions, sessionsOf } from '../../src/verify/sessions.js';
import { pullOf } from './helpers.js';

const HOUR = 3600;
/** Recordings of ten minutes, in the given order, `apart` seconds from start to start. */
const made = (sides: string, apart = HOUR): Made[] =>
  [...sides].map((side, input) => ({
    input,
    side: side === 'b' ? 'before' : 'after',
    start: 1.7e9 + input * apart,
    duration: 600,
  }));

describe('order of the sessions', () => {
  it.each([
    ['ba', 'one-after-the-other', 2],
    ['bbaa', 'one-after-the-other', 2],
    ['baba', 'alternated', 4],
    ['abba', 'alternated', 3],
    ['abab', 'alternated', 4],
    ['bababa', 'alternated', 6],
    ['bab', 'one-after-the-other', 3],
  ])('%s is %s', (sides, order, count) => {
    const found = sessionsOf(made(sides));
    // In ABBA the two in the middle follow one another without a rest: one session of B alone.
    expect(found.order).toBe(sides === 'abba' ? 'one-after-the-other' : order);
    expect(new Set(found.of.values()).size).toBe(count);
  });

  it('one file a pull is one session; a rest of two hours begins another', () => {
    expect(new Set(sessionsOf(made('bbbb', 700)).of.values()).size).toBe(1);
    expect(new Set(sessionsOf(made('bbbb', 3 * HOUR)).of.values()).size).toBe(4);
    expect(sessionsOf(made('abba', 3 * HOUR)).order).toBe('alternated');
  });

  it('undated recordings tell no order', () => {
    const some = made('baba').map((each) => (each.input === 2 ? { ...each, start: undefined } : each));
    expect(sessionsOf(some)).toMatchObject({ order: 'not-told' });
  });

  it('the order of the files does not matter, that of their dates does', () => {
    const shuffled = [...made('baba')].reverse();
    expect(sessionsOf(shuffled).order).toBe('alternated');
  });
});

/** Four pulls a session; `drift` and `map` in kPa. */
function change(sides: string, level: (session: number, side: string) => number, sessions?: Sessions) {
  const noise = [0.4, -0.5, 0.3, -0.2];
  const pulls = [...sides].flatMap((side, input): PullTrace[] =>
    noise.map((own, k) =>
      pullOf({
        side: side === 'b' ? 'before' : 'after',
        input,
        number: 4 * input + k + 1,
        signals: { boostError: () => level(input, side) + own },
      }),
    ),
  );
  return changeOf(groupsOf(pulls)[0]!, ['boost.error'], sessions ?? sessionsOf(made(sides)));
}

describe('map or session', () => {
  it('is the map where maps alternated and the sessions agree', () => {
    const found = change('bababa', (session, side) => 0.1 * session + (side === 'a' ? 8 : 0));
    expect(found).toMatchObject({ attribution: 'map', order: 'alternated', sessions: { before: 3, after: 3 } });
    const { bySession, difference } = found.endpoints[0]!;
    expect(bySession!.low).toBeGreaterThan(0);
    // The session counts once, however many pulls it has.
    expect(bySession!.high - bySession!.low).toBeLessThan(2);
    expect(difference!.value).toBeCloseTo(bySession!.value, 9);
  });

  it('stays open where one map followed the other: drift looks like a map', () => {
    const found = change('bbbaaa', (session) => 2 * session);
    expect(found.endpoints[0]!.outcome).toBe('changed');
    expect(found.attribution).toBe('map-or-session');
    expect(found.attributionReason).toMatch(/session of its own/);
  });

  it('stays open where sessions of one map differ as much', () => {
    const levels = [0, 9, 6, 2, 1, 12];
    const found = change('bababa', (session) => levels[session]!);
    expect(found.endpoints[0]!.outcome).toBe('changed');
    expect(found).toMatchObject({ attribution: 'map-or-session', order: 'alternated' });
    expect(found.attributionReason).toMatch(/could be chance/);
  });

  it('stays open without dates', () => {
    const found = change('baba', (_, side) => (side === 'a' ? 8 : 0), {
      of: new Map([0, 1, 2, 3].map((input) => [input, input])),
      order: 'not-told',
    });
    expect(found.attribution).toBe('map-or-session');
    expect(found.attributionReason).toMatch(/date and time/);
  });
});
